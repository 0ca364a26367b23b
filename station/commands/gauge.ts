import { Command } from "@commander-js/extra-typings";

/** `drumtight gauge`: what hangs on which port, what it says, and whether it is good enough. */
export function gaugeCommand(): Command {
  return new Command("gauge")
    .description("find, try and check the instruments on the ports")
    .addHelpText("after", "\nExample:\n  drumtight gauge list");
}
