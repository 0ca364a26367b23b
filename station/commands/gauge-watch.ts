import { Command } from "@commander-js/extra-typings";
import type { WatchState } from "../bring-up/watch-text.ts";

/** `drumtight gauge watch`: one gauge's live values, and what goes wrong on its cable. */
export function watchCommand() {
  return new Command("watch")
    .description("watch one gauge: values, noise, rate, jitter, and every line that is lost or refused")
    .argument("<gauge>", "its name in the station file, or its port with --profile")
    .option("--station <file>", "station file that names it")
    .option("--profile <name>", "its profile, by name or as a file")
    .option("--seconds <number>", "end after so many")
    .option("--json", "one JSON object a second")
    .addHelpText(
      "after",
      `
Noise is the standard deviation about a straight line through the last ten seconds. After a fault it connects anew and
goes on. It reads only; outputs are left alone. The station must not run: one program at a time has a port.

Exit code 0: it was heard. 1: no reading came. 2: the port cannot be opened.

Examples:
  drumtight gauge watch leak_gauge --station line-2.yaml
  drumtight gauge watch 10.0.0.7:4001 --profile hall-gauge.yaml --seconds 60`,
    )
    .action(async (name, options) => {
      process.exitCode = await watchGauge(name, options);
    });
}

interface WatchArguments {
  readonly station?: string;
  readonly profile?: string;
  readonly seconds?: string;
  readonly json?: true;
}

const WINDOW_s = 10;
const REDRAW_ms = 200;
const LOG_ms = 1000;

async function watchGauge(name: string, options: WatchArguments): Promise<0 | 1> {
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { GaugeWatch } = await import("../bring-up/gauge-watch.ts");
  const { openOneGauge } = await import("../bring-up/one-gauge.ts");
  const { shownChannels } = await import("../bring-up/shown-channel.ts");
  const { watchLine, watchRows, watchState } = await import("../bring-up/watch-text.ts");
  const { secondsFrom } = await import("../bring-up/seconds-option.ts");
  const { stopOnSignal } = await import("../stop-on-signal.ts");
  const seconds = options.seconds === undefined ? null : secondsFrom("--seconds", options.seconds);
  const clock = new RealClock();
  const { gauge, profile, where } = await openOneGauge(name, options, clock);
  const stopping = stopOnSignal(() => {});
  const ending =
    seconds === null ? stopping : AbortSignal.any([stopping, AbortSignal.timeout(seconds * 1000)]);
  const watch = new GaugeWatch({ gauge, clock, signal: ending, keep_s: WINDOW_s });
  const channels = shownChannels(profile);
  const state = (): WatchState => {
    const heard = gauge.conversation
      .lines()
      .filter(({ direction, text }) => direction === "heard" && !text.startsWith("("));
    return watchState(watch, channels, heard.at(-1)?.text ?? "");
  };
  const isScreen = process.stdout.isTTY && !options.json;
  const screen = isScreen ? new Redrawn() : null;
  if (!options.json) print(`${name}, profile ${profile.name}, at ${where}${isScreen ? "; Ctrl-C ends" : ""}`);
  const show = () => {
    if (screen) screen.draw(watchRows(state()));
    else print(options.json ? JSON.stringify(stateJson(state())) : watchLine(state()));
  };
  const timer = setInterval(show, isScreen ? REDRAW_ms : LOG_ms);
  try {
    await watch.run();
  } finally {
    clearInterval(timer);
  }
  if (screen) screen.draw(watchRows(state()));
  else if (options.json)
    print(JSON.stringify({ ...stateJson(state()), event: "ended", identity: gauge.identity }));
  else for (const row of watchRows(state())) if (row !== "") print(row);
  return watch.counts.lines > 0 ? 0 : 1;
}

/** Rows drawn over the rows before. */
class Redrawn {
  #rows = 0;

  draw(rows: readonly string[]): void {
    const width = process.stdout.columns || 80;
    const up = this.#rows > 0 ? `\x1b[${this.#rows}A\r\x1b[J` : "";
    process.stdout.write(`${up}${rows.map((row) => row.slice(0, width - 1)).join("\n")}\n`);
    this.#rows = rows.length;
  }
}

function stateJson({ counts, isConnected, fault, ...state }: WatchState): object {
  return {
    event: "watch",
    connected: isConnected,
    fault,
    ...state,
    lines: counts.lines,
    over_range: counts.overRange,
    invalid: counts.invalid,
    missing: counts.missing,
    reconnects: counts.reconnects,
    longest_gap_s: counts.longestGap_s,
    faults: Object.fromEntries(counts.faults),
  };
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
