export { type FormContent, specificationForm } from "./form.ts";
export { type ReadForm, readSpecificationForm } from "./read-form.ts";
