/** Imports go worker -> templates -> core, without cycles; core reaches neither disk, network, clock nor process. */
module.exports = {
  forbidden: [
    { name: "no-cycles", severity: "error", from: {}, to: { circular: true } },
    { name: "core-imports-core-only", severity: "error", from: { path: "^core/" }, to: { path: "^(templates|worker|scripts|tests)/" } },
    { name: "templates-import-no-worker", severity: "error", from: { path: "^templates/" }, to: { path: "^(worker|scripts|tests)/" } },
    { name: "worker-imports-no-tests", severity: "error", from: { path: "^worker/" }, to: { path: "^(scripts|tests)/" } },
    { name: "core-has-no-io", severity: "error", from: { path: "^core/" }, to: { dependencyTypes: ["core"] } },
    {
      name: "core-uses-few-packages",
      severity: "error",
      from: { path: "^core/" },
      to: {
        dependencyTypes: ["npm", "npm-dev", "npm-no-pkg", "unknown"],
        pathNot: "node_modules/(zod|fflate|saxes|lib-r-math\\.js|@stdlib|jstat)/",
      },
    },
    { name: "resolves", severity: "error", from: {}, to: { couldNotResolve: true } },
  ],
  options: {
    doNotFollow: { path: "node_modules" },
    tsConfig: { fileName: "tsconfig.json" },
    tsPreCompilationDeps: true,
    exclude: { path: "^dist/" },
  },
};
