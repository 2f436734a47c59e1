/** The regrade search: which other specifications and grades a coil meets, and by how much. Pure. */
export { type RegradeCandidate, type RegradeInput, regradeSearch } from "./regrade-search.ts";
