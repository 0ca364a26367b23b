import { Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { STRANGER_KINDS, type StrangerKind } from "../../sim/instruments/stranger-traits.ts";

/** `drumtight sim gauge`: one gauge of unknown make on a port, to try its bring-up on. */
export function simGaugeCommand() {
  return new Command("gauge")
    .description(
      "Serve one gauge of unknown make, drawn by its seed: something to try drumtight gauge probe on.",
    )
    .addOption(new Option("--kind <name>", "how it comes to speak").choices(STRANGER_KINDS))
    .option("--seed <number>", "which gauge it is", wholeNumber, 1)
    .option("--tcp <port>", "port on 127.0.0.1; 0 takes one that is free", portNumber, 0)
    .option("--pty <dir>", "make a pseudo-terminal in this folder, as DIR/stranger (needs socat)")
    .option("--manual", "print what its manual would say, for when you have tried without")
    .addHelpText(
      "after",
      `
Commands on standard input:
  pressure QUANTITY | unplug | plug | quit

On a pseudo-terminal it can be heard only at the baud rate that it has, as on a real wire; data bits and parity a
pseudo-terminal has not.

Example:
  drumtight sim gauge --seed 5 --pty /tmp/hall
  drumtight gauge probe /tmp/hall/stranger --out hall-gauge.yaml      (in a second terminal)`,
    )
    .action(serveStranger);
}

interface Arguments {
  readonly kind?: StrangerKind | undefined;
  readonly seed: number;
  readonly tcp: number;
  readonly pty?: string | undefined;
  readonly manual?: true | undefined;
}

async function serveStranger({ kind, seed, tcp, pty, manual }: Arguments): Promise<void> {
  const { strangerTraits } = await import("../../sim/instruments/stranger-traits.ts");
  const { Stranger, strangerManual } = await import("../../sim/instruments/stranger.ts");
  const traits = strangerTraits(seed, kind);
  if (manual) return print(strangerManual(traits));
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { parseQuantity } = await import("../../limits/quantity.ts");
  const { serveOneGauge } = await import("../../sim/serve-one.ts");
  const { UsageError } = await import("../explain.ts");
  const { onLostOutput } = await import("../lost-output.ts");
  const { endOnSignal } = await import("../end-on-signal.ts");
  const { createInterface } = await import("node:readline");
  let pressure_Pa = 0;
  let stop: (failure?: Error) => void = () => {};
  const stopped = new Promise<Error | undefined>((resolve) => {
    stop = resolve;
  });
  const begun = endOnSignal(() => stop());
  // In good order, too: the pseudo-terminal is a process of its own.
  onLostOutput((lost) => stop(lost.isReaderGone ? undefined : lost));
  const stranger = new Stranger({
    name: "stranger",
    clock: new RealClock(),
    seed,
    traits,
    pressure_Pa: () => pressure_Pa,
  });
  const serving = await serveOneGauge(stranger, {
    tcpPort: tcp,
    ...(pty === undefined ? {} : { ptyFolder: pty }),
    failed: stop,
  }).catch((error: unknown) => {
    throw error instanceof Error && error.name === "ServeError" ? new UsageError(error.message) : error;
  });
  begun();
  print(`stranger ${serving.address}`);
  const lines = createInterface({ input: process.stdin });
  lines.on("line", (line) => {
    const [verb = "", ...rest] = line.trim().split(/\s+/);
    if (verb === "") return;
    if (verb === "quit") return stop();
    if (verb === "unplug" || verb === "plug") {
      stranger.misbehave(verb === "unplug" ? "unplugged" : null);
      return print(verb === "unplug" ? "Unplugged." : "Plugged in.");
    }
    const pressure = verb === "pressure" ? parseQuantity(rest.join(" "), "pressure") : null;
    if (!pressure?.ok)
      return print('Expected pressure QUANTITY (like "pressure -8 kPa"), unplug, plug or quit.');
    pressure_Pa = pressure.value.value_SI;
    print(`It is at ${pressure_Pa} Pa now.`);
  });
  const failure = await stopped;
  lines.close();
  process.stdin.destroy();
  await serving.close();
  if (failure) throw new UsageError(failure.message);
}

function wholeNumber(text: string): number {
  const value = Number(text);
  if (!/^\d+$/.test(text) || !Number.isSafeInteger(value))
    throw new InvalidArgumentError("expected a whole number.");
  return value;
}

function portNumber(text: string): number {
  const port = wholeNumber(text);
  if (port > 65_535) throw new InvalidArgumentError("expected a port number up to 65535, or 0.");
  return port;
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
