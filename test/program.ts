import { join } from "node:path";
import { packageRoot } from "../station/package-root.ts";

/** The program as it is run, `npm run build`. */
export const PROGRAM = join(packageRoot(), "dist", "program", "main.js");
