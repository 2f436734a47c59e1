export { type Annotation, annotateWorkbook, type Mark, type MarkStyle, type SheetMarks } from "./annotate.ts";
export type { Codec } from "./codec.ts";
export { dateToSerial, isIsoDay, serialToDate } from "./dates.ts";
export { LIMITS } from "./limits.ts";
export { isCompletePackage } from "./package.ts";
export { readWorkbook } from "./reader.ts";
export {
  type CellStyle,
  type DescribedCell,
  type DescribedSheet,
  type Validation,
  writeWorkbook,
} from "./write.ts";
export { columnLetters } from "./xml.ts";
