export { inChangeOrder } from "./change-order.ts";
export { cutList, type EndCuts } from "./cut-list.ts";
export type { SetUpProblem, Tester } from "./equipment.ts";
export { planSetUps, toolingOf } from "./plan.ts";
export type { Piece, SetUp } from "./set-up.ts";
