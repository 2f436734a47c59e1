export { type Annotation, annotateWorkbook, type FindingsSheet, type Mark, type MarkStyle, type SheetMarks } from "./annotate.ts";
export { dateToSerial, isDateFormat, isExponentFormat, isIsoDay, isPercentFormat, serialToDate } from "./dates.ts";
export { LIMITS } from "./limits.ts";
export { isCompletePackage } from "./package.ts";
export { type ReadWorkbook, readWorkbook } from "./reader.ts";
export {
  type CellStyle,
  type DescribedCell,
  type DescribedSheet,
  type Validation,
  type WorkbookDescription,
  writeWorkbook,
} from "./write.ts";
export { columnLetters } from "./xml.ts";
