declare module "jstat" {
  const jstat: { readonly jStat: unknown };
  export default jstat;
}
