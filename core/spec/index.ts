export { BUILT_IN } from "./data/index.ts";
export { describeLibrary, type SizeRange, type SpecificationSummary } from "./describe.ts";
export { builtInLibrary, createSpecificationLibrary, type HeldLibrary, type HeldSpecification } from "./library.ts";
export { conditionsJson, type LimitsAnswer, limitsFor, requirementText } from "./limits.ts";
export { canonicalContent, type ParsedSpecification, parseSpecification } from "./parse.ts";
export { problemText, type SpecificationProblem } from "./problem.ts";
export { PROPERTIES } from "./properties.ts";
export { type SpecificationData, specificationSchema } from "./schema.ts";
