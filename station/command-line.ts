import { Command, CommanderError } from "commander";
import { escapedLines } from "../limits/escaped-text.ts";
import { explain, UsageError } from "./explain.ts";
import { softwareName } from "./package-root.ts";

const COMMANDS = {
  run: async () => (await import("./commands/run.ts")).runCommand(),
  ambient: async () => (await import("./commands/ambient.ts")).ambientCommand(),
  find: async () => (await import("./commands/find.ts")).findCommand(),
  print: async () => (await import("./commands/print.ts")).printCommand(),
  audit: async () => (await import("./commands/audit.ts")).auditCommand(),
  index: async () => (await import("./commands/index-command.ts")).indexCommand(),
  yield: async () => (await import("./commands/yield.ts")).yieldCommand(),
  hold: async () => (await import("./commands/hold.ts")).holdCommand(),
  rework: async () => (await import("./commands/rework.ts")).reworkCommand(),
  suspects: async () => (await import("./commands/suspects.ts")).suspectsCommand(),
  release: async () => (await import("./commands/release.ts")).releaseCommand(),
  scrap: async () => (await import("./commands/scrap.ts")).scrapCommand(),
  limits: async () => (await import("./commands/limits.ts")).limitsCommand(),
  calc: async () => (await import("./commands/calc.ts")).calcCommand(),
  study: async () => (await import("./commands/study.ts")).studyCommand(),
  people: async () => (await import("./commands/people.ts")).peopleCommand(),
  gauge: async () => (await import("./commands/gauge.ts")).gaugeCommand(),
  sim: async () => (await import("./commands/sim.ts")).simCommand(),
};

/**
 * Does what the command line says, and sets the exit code.
 * @param args without program and file
 */
export async function commandLine(args: readonly string[]): Promise<void> {
  try {
    await run(args);
  } catch (error) {
    if (error instanceof CommanderError) {
      process.exitCode = error.exitCode === 0 ? 0 : 2;
    } else {
      const { text, exitCode } = explain(error);
      process.stderr.write(`${text}\n`);
      process.exitCode = exitCode;
    }
  }
}

async function run(args: readonly string[]): Promise<void> {
  const program = new Command("drumtight")
    .description("Leak and suction test at the end of a line of suction-cleaner bodies.")
    // A command's options are its own, also where a command below it has some of the same names.
    .enablePositionalOptions()
    .version(softwareName().split(" ")[1] ?? "")
    .showHelpAfterError("(add --help for how to use it)");
  // A name that is none of them is told what it may have meant.
  const asked = Object.entries(COMMANDS).filter(([name]) => name === args[0]);
  for (const [, load] of asked.length > 0 ? asked : Object.entries(COMMANDS)) {
    program.addCommand(inherit(await load()));
  }
  inherit(program);
  refuseRepeats(program);
  await program.parseAsync(args, { from: "user" });
}

/** Wrong usage must end with exit code 2, in every subcommand, so commander may not exit by itself. */
function inherit<C extends { exitOverride(): C; readonly commands: readonly unknown[] }>(
  command: C,
): Command {
  command.exitOverride();
  for (const sub of command.commands) inherit(sub as Command);
  const inherited = command as unknown as Command;
  // What it complains of may have been scanned, and is repeated.
  inherited.configureOutput({ outputError: (text, write) => write(escapedLines(text)) });
  return inherited;
}

/** Of two values commander would silently take the last. */
function refuseRepeats(command: Command): void {
  for (const sub of command.commands) refuseRepeats(sub);
  for (const option of command.options) {
    if (option.variadic || option.isBoolean()) continue;
    let isGiven = false;
    command.on(`option:${option.name()}`, () => {
      if (isGiven) throw new UsageError(`${option.long ?? option.flags} is given twice: give it once.`);
      isGiven = true;
    });
  }
}
