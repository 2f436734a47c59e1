export { BUILT_IN } from "./data/index.ts";
export { builtInLibrary, createSpecificationLibrary, type HeldLibrary, type HeldSpecification } from "./library.ts";
export { conditionsJson, type LimitsAnswer, limitsFor, requirementText } from "./limits.ts";
export { canonicalContent, type ParsedSpecification, parseSpecification, type SpecificationProblem } from "./parse.ts";
export { type SpecificationData, specificationSchema } from "./schema.ts";
