import { Command } from "@commander-js/extra-typings";
import { checkCommand } from "./gauge-check.ts";
import { checkProfileCommand } from "./gauge-check-profile.ts";
import { listCommand } from "./gauge-list.ts";
import { probeCommand } from "./gauge-probe.ts";
import { replayTapeCommand } from "./gauge-replay.ts";
import { schemaCommand } from "./gauge-schema.ts";
import { watchCommand } from "./gauge-watch.ts";

/** `drumtight gauge`: what hangs on which port, what it says, and whether it is good enough. */
export function gaugeCommand(): Command {
  return new Command("gauge")
    .description("find, try and check the instruments on the ports")
    .addCommand(listCommand())
    .addCommand(probeCommand())
    .addCommand(watchCommand())
    .addCommand(checkCommand())
    .addCommand(checkProfileCommand())
    .addCommand(schemaCommand())
    .addCommand(replayTapeCommand())
    .addHelpText("after", "\nExample:\n  drumtight gauge list");
}
