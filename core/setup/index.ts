export { type Piece, planSetUps, type SetUp, type Tester } from "./plan.ts";
