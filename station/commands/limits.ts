import { Command } from "@commander-js/extra-typings";
import { approveCommand, newKeyCommand } from "./limits-approve.ts";
import { checkCommand } from "./limits-check.ts";
import { diffCommand } from "./limits-diff.ts";
import { logCommand } from "./limits-log.ts";
import { replayCommand } from "./limits-replay.ts";
import { print } from "./one-limit-file.ts";

/** `drumtight limits`: check, describe and approve limit files. The actions set process.exitCode. */
export function limitsCommand(): Command {
  return new Command("limits")
    .description("check, compare, approve and replay limit files")
    .addCommand(checkCommand())
    .addCommand(diffCommand())
    .addCommand(logCommand())
    .addCommand(replayCommand())
    .addCommand(schemaCommand())
    .addCommand(approveCommand())
    .addCommand(newKeyCommand())
    .addHelpText("after", "\nExample:\n  $ drumtight limits check limits/models/*.yaml");
}

function schemaCommand() {
  return new Command("schema")
    .description("print the JSON Schema of a limit file, for editors")
    .addHelpText("after", "\nExample:\n  $ drumtight limits schema > limit-file.schema.json")
    .action(async () => {
      const { limitFileJsonSchema } = await import("../../limits/limit-file.ts");
      print(JSON.stringify(limitFileJsonSchema(), null, 2));
    });
}
