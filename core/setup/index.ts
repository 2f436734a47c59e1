export { type ChosenWeights, chooseWeights, type Weight, type WeightQuestion } from "./counterweights.ts";
export { type Piece, planSetUps, type SetUp, sheetOfProperty, type Tester } from "./plan.ts";
