// Rules for the pages' scripts; names and types are tsc's work.
import js from "@eslint/js";

export default [
  { files: ["**/*.js"], ...js.configs.recommended },
  {
    rules: {
      ...js.configs.recommended.rules,
      "no-undef": "off",
      "no-unused-vars": ["error", { argsIgnorePattern: "^_" }],
      "no-empty": ["error", { allowEmptyCatch: false }],
      eqeqeq: "error",
      "prefer-const": ["error", { destructuring: "all" }],
      "no-var": "error",
      "no-eval": "error",
      "no-implied-eval": "error",
    },
  },
];
