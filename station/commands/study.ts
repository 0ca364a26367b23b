import { Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { agreementCommand } from "./study/agreement-command.ts";
import { biasCommand } from "./study/bias-command.ts";
import { capabilityCommand } from "./study/capability-command.ts";
import { chartCommand } from "./study/chart-command.ts";
import { compareCommand } from "./study/compare-command.ts";
import { limitCommand } from "./study/limit-command.ts";
import { planCommand } from "./study/plan-command.ts";
import { repeatabilityCommand } from "./study/repeatability-command.ts";
import { stabilityCommand } from "./study/stability-command.ts";
import { timingCommand } from "./study/timing-command.ts";
import { type1Command } from "./study/type1-command.ts";
import { valuesCommand } from "./study/values-command.ts";

/** `drumtight study`: can the station measure it, is the process good, where do limits and times belong. */
export function studyCommand() {
  return new Command("study")
    .description(
      "Studies: can the station measure what it judges, is the process good, and where do limits and times belong?",
    )
    .commandsGroup("First, what the station must learn of a model:")
    .addCommand(settleCommand())
    .addCommand(volumeCommand())
    .commandsGroup("Can the station measure it?")
    .addCommand(planCommand())
    .addCommand(type1Command())
    .addCommand(biasCommand())
    .addCommand(repeatabilityCommand())
    .addCommand(agreementCommand())
    .addCommand(stabilityCommand())
    .commandsGroup("Is the process good?")
    .addCommand(chartCommand())
    .addCommand(capabilityCommand())
    .addCommand(compareCommand())
    .commandsGroup("Setting the test:")
    .addCommand(timingCommand())
    .addCommand(limitCommand())
    .commandsGroup("Besides:")
    .addCommand(valuesCommand())
    .helpCommand("help [command]", "display help for command")
    .addHelpText(
      "after",
      `
Exit code 0: yes, marginal, or too little to say (the text and --json tell which); 1: no; 2: used wrongly, or no study.

Examples:
  drumtight study settle --model TUB-12 --simulate
  drumtight study repeatability gauge.csv --upper 60 --unit mL/min --html gauge.html
  drumtight study capability --records records --model TUB-12 --characteristic leak_rate`,
    );
}

const CAUTION = `
The body is evacuated or pressurised several times by itself: it can collapse or burst. Guard closed, eye protection on,
hands out, and local safety rules first. Ctrl-C ends the study, outputs safe, nothing saved.`;

/** `drumtight study settle`: 0 learned and saved, 1 the runs give no calibration, 2 stopped, used wrongly or cannot run. */
function settleCommand() {
  return withCommon(new Command("settle"), { runs: 5, leastRuns: 4 })
    .description("Learn on the tight reference piece how a body settles after the fill, and save it.")
    .option("--tau-spread <part>", "expected spread of the time constant from unit to unit", "8 %")
    .option("--heat-spread <part>", "expected spread of the heat from unit to unit", "5 %")
    .option("--slow-spread <part>", "expected spread of the slow part from unit to unit", "25 %")
    .addHelpText(
      "after",
      `${CAUTION}

Fits p(t) = c + s t + heat exp(-t/tau) + slow exp(-t/slow tau) to all runs, t from the moment of shut-off. One tight piece
can't show how units differ from one another: the three spreads, each one standard deviation, say what to expect. Where
units of a model have been studied, state what was found.

The calibration is a new dated file beside the station file; the newest is in force. --simulate studies the demo
station, and saves beside the simulated records.

Examples:
  drumtight study settle --model TUB-12 --station station.yaml --as "C. Holm"
  drumtight study settle --model POD-4 --simulate --runs 8 --json`,
    )
    .action(async (options) => {
      const { common, spreadOf } = await import("./study/common-options.ts");
      const { StudyReport } = await import("./study/report.ts");
      const { studySettle } = await import("./study/settle.ts");
      const unitSpread = {
        tau: spreadOf("--tau-spread", options.tauSpread),
        heat: spreadOf("--heat-spread", options.heatSpread),
        slow: spreadOf("--slow-spread", options.slowSpread),
      };
      const report = new StudyReport({ asJson: options.json === true });
      process.exitCode = await studySettle({ ...common(options), unitSpread }, report);
    });
}

/** `drumtight study volume`: 0 found and saved, 1 the runs give no volume, 2 stopped, used wrongly or cannot run. */
function volumeCommand() {
  return withCommon(new Command("volume"), { runs: 3, leastRuns: 2 })
    .description(
      "Measure the volume of unit and fixture with a known leak or a known added volume, and save it.",
    )
    .addOption(
      new Option("--leak <rate>", "calibrated leak connected to the tight reference piece").conflicts(
        "addedVolume",
      ),
    )
    .addOption(
      new Option("--leak-uncertainty <part>", "of the known leak: one standard uncertainty").conflicts(
        "addedVolume",
      ),
    )
    .addOption(
      new Option("--leak-kind <kind>", "how the leak's flow follows pressure and temperature")
        .choices(["capillary", "orifice", "unknown"])
        .default("unknown"),
    )
    .option("--added-volume <volume>", "known rigid volume connected to the leak reference piece")
    .option("--added-uncertainty <part>", "of the added volume: one standard uncertainty")
    .addHelpText(
      "after",
      `${CAUTION}

Three sets of runs: without, with, without again, so that even drift drops out. Slopes s are taken over the second half of
the watching time, positive when pressure is lost.
  known leak q:          V = q p_ref (T / T_ref) / (s_with - s_without)
  known added volume:    V = V_add / (s_without / s_with - 1), the leak being the same
Both from the ideal gas amount balance at fixed volume; uncertainty by JCGM 100 (GUM). An elastic body counts with what it
yields, as the leak step feels it. Without --leak and --added-volume the known leak is that of the station's leak
reference piece over its tight one; its certificate's uncertainty must be stated.

A known leak is known at the test pressure, 20 degC and 101.325 kPa outside, and is carried to the pressure and temperature
at hand: of unknown kind it may be a capillary, an orifice or anything between, which is part of the uncertainty.

Examples:
  drumtight study volume --model TUB-12 --station station.yaml --leak-uncertainty "1 %" --leak-kind capillary
  drumtight study volume --model TUB-12 --station station.yaml --leak "30 mL/min @ 20 degC" --leak-uncertainty "1 %"
  drumtight study volume --model POD-4 --simulate --added-volume "1 L" --added-uncertainty "2 mL" --json`,
    )
    .action(async (options) => {
      const { common, knownOf } = await import("./study/common-options.ts");
      const { StudyReport } = await import("./study/report.ts");
      const { studyVolume } = await import("./study/volume.ts");
      const report = new StudyReport({ asJson: options.json === true });
      const known = knownOf(options);
      process.exitCode = await studyVolume({ ...common(options), known, leakKind: options.leakKind }, report);
    });
}

function withCommon(command: Command, { runs, leastRuns }: { runs: number; leastRuns: number }) {
  return command
    .requiredOption("--model <name>", "model to study")
    .addOption(new Option("--station <file>", "station file of a real station").conflicts("simulate"))
    .addOption(new Option("--simulate", "the demo plant's station, every instrument simulated"))
    .option("--seed <number>", "seed of the simulated station's noise", wholeNumber, 7)
    .option("--runs <count>", `runs, ${leastRuns} to 50`, countFrom(leastRuns), runs)
    .option("--watch <time>", "time each run is watched from shut-off", "60 s")
    .option("--rest <time>", "rest of the vented body before each run", "45 s")
    .option("--as <name>", "who makes the study")
    .option("--out <dir>", "folder to save to, instead of the station file's")
    .option("--json", "print one JSON object at the end");
}

function wholeNumber(text: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new InvalidArgumentError("Give a whole number, like 7.");
  return Number(text);
}

function countFrom(least: number): (text: string) => number {
  return (text) => {
    const count = wholeNumber(text);
    if (count < least || count > 50) throw new InvalidArgumentError(`Give a number from ${least} to 50.`);
    return count;
  };
}
