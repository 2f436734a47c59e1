export { type FormContent, specificationForm } from "./form.ts";
export { readSpecificationForm } from "./read-form.ts";
