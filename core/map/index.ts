export { chooseMap } from "./choose.ts";
export { type ProposedMap, proposeMap } from "./propose.ts";
export { type IntakeMap, type IntakeMapInput, mapProblemText, type ParsedMap, parseIntakeMap } from "./schema.ts";
