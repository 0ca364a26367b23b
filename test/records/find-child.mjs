// The built command on its own: node find-child.mjs SERIAL [OPTIONS]
import { findCommand } from "../../dist/station/commands/find.js";

await findCommand().parseAsync(process.argv.slice(2), { from: "user" });
