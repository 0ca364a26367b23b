import { Command } from "@commander-js/extra-typings";
import type { Clock } from "../../drivers/ports.ts";
import type { ProfileFit } from "../bring-up/match-profiles.ts";
import type { ProbeEvent, ProbePort } from "../bring-up/probe.ts";
import type { LineProfile, Question } from "../bring-up/questions.ts";
import type { TransportSettings } from "../station-file.ts";

/** `drumtight gauge probe`: what is on a port, and a draft of its profile where nobody has one yet. */
export function probeCommand() {
  return new Command("probe")
    .description("find out what is on a port, and draft a profile for an unknown gauge")
    .argument("<port>", "serial port (/dev/serial/by-id/...), or HOST:PORT of a device server")
    .option("--baud <list>", "settings to try, with commas: 9600,19200-7E1 (8N1 where it says no more)")
    .option("--ask <text...>", "a question for a reading, from the instrument's manual")
    .option("--start <text...>", "a command from its manual that sets it sending")
    .option(
      "--channels <list>",
      'names and units of its numbers in their order, - for one left alone: "leak_pressure hPa, -"',
    )
    .option("--out <file>", "where the draft goes, like hall-gauge.yaml; never overwritten")
    .option("--profiles <dir>", "a folder of more profiles to try")
    .option(
      "--units <ids>",
      "Modbus units to look for, like 1-4,7; otherwise 1-4 and those of known profiles",
    )
    .option("--listen <seconds>", "how long each setting is listened to", "0.7")
    .option("--listen-only", "send nothing at all")
    .option("--yes", "send the questions without asking before")
    .option("--json", "one JSON object per line; the last one tells the result")
    .addHelpText("after", HELP)
    .action(async (port, options) => {
      process.exitCode = await probePort(port, options);
    });
}

const HELP = `
It listens first, then asks what known gauges are asked: who they are, and for one reading. An I/O block is only asked
who it is. Where nothing speaks in lines, it reads Modbus registers of the units it is told. What goes over the cable is shown with nothing invisible (\\r\\n, \\x00).

CAUTION: what is a question to one instrument may be a command to another, and at a wrong baud rate it arrives as other
bytes. If anything on this port could open a valve, start a motor or build up pressure, isolate and vent the plant by
the local procedure first, or use --listen-only. Nothing here is a safety function.

Exit code 0: a profile matches. 1: none does. 2: the port could not be tried.

Examples:
  drumtight gauge probe /dev/serial/by-id/usb-adapter-port0
  drumtight gauge probe 10.0.0.7:4001 --ask "READ?" --channels "leak_pressure hPa" --out hall-gauge.yaml`;

interface ProbeArguments {
  readonly baud?: string;
  readonly ask?: readonly string[];
  readonly start?: readonly string[];
  readonly channels?: string;
  readonly out?: string;
  readonly profiles?: string;
  readonly units?: string;
  readonly listen: string;
  readonly listenOnly?: true;
  readonly yes?: true;
  readonly json?: true;
}

async function probePort(address: string, options: ProbeArguments): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { ownProfilesFolder } = await import("../../drivers/profile-file.ts");
  const { likelySettings, settingsFrom, settingsText } = await import("../bring-up/port-settings.ts");
  const { profilesIn } = await import("../bring-up/known-profiles.ts");
  const { givenQuestions, isLineProfile, knownQuestions } = await import("../bring-up/questions.ts");
  const { namedChannels } = await import("../bring-up/named-channels.ts");
  const { fittingProfiles } = await import("../bring-up/match-profiles.ts");
  const { confirmFits } = await import("../bring-up/confirm-fits.ts");
  const { fitText, nothingRead, whatItDoes } = await import("../bring-up/probe-text.ts");
  const { RawPrinter } = await import("../bring-up/raw-printer.ts");
  const { probe } = await import("../bring-up/probe.ts");
  const { deliver, draftFor } = await import("./gauge-probe-draft.ts");
  const { readRegisters, tellRegisters, unitIds } = await import("./gauge-probe-modbus.ts");
  const { transportTo } = await import("../served-station-file.ts");
  const { stopOnSignal } = await import("../stop-on-signal.ts");
  const { existsSync } = await import("node:fs");
  const listen_s = Number(options.listen);
  if (!(listen_s > 0 && listen_s <= 600)) throw new UsageError("--listen: expected seconds, up to 600.");
  if (options.listenOnly && (options.ask || options.start))
    throw new UsageError("--listen-only sends nothing: leave out --ask and --start, or --listen-only.");
  if (options.out !== undefined && existsSync(options.out))
    throw new UsageError(`${options.out} is there already and is not overwritten: give another --out.`);
  if (options.units !== undefined) unitIds(options.units);
  const channels = options.channels === undefined ? [] : namedChannels(options.channels);
  const folders = [...(options.profiles === undefined ? [] : [options.profiles]), ownProfilesFolder()];
  const known = profilesIn(folders, complain);
  const profiles = known.filter(isLineProfile);
  const transport = transportTo(address);
  const isSerial = transport.kind === "serial";
  const settings =
    options.baud === undefined
      ? likelySettings(profiles.map(({ port }) => port))
      : options.baud.split(",").map(settingsFrom);
  const questions = options.listenOnly ? [] : knownQuestions(profiles);
  const given = (options.ask ?? []).map(givenQuestions);
  const start = (options.start ?? []).flatMap(givenQuestions);
  if (!options.listenOnly)
    await requireConsent(address, [...questions, ...given.flat(), ...start], options.yes);
  const stopping = stopOnSignal(() => complain("Stopping."));
  const clock = new RealClock();
  const port = await portTo(transport, clock);
  const begun_s = clock.now_s();
  const say = options.json ? () => {} : print;
  let trying = "";
  const printer = new RawPrinter(say, RAW_LINES);
  const result = await probe({
    port,
    clock,
    signal: stopping,
    settings,
    questions,
    given,
    start,
    listen_s,
    saw: (event) => {
      if (options.json) return print(JSON.stringify(eventJson(event, begun_s)));
      if (event.kind === "trying") {
        const heading = isSerial ? settingsText(event.settings) : address;
        if (heading !== trying) printer.heading(heading);
        trying = heading;
      } else if (event.kind === "judged") {
        if (event.as.kind === "garbled" || event.as.kind === "parity")
          printer.heading("            (no text: wrong settings)");
      } else printer.passed(event.kind, event.bytes, event.at_s - begun_s);
    },
  });
  printer.end();
  const { finding } = result;
  if (!finding) {
    // An instrument with registers says nothing unless it is asked in its own way.
    const { fits: registers, units } =
      options.listenOnly || stopping.aborted || result.garbled || result.lost
        ? { fits: [], units: [] }
        : await readRegisters({ transport, clock, stopping, known, options, say });
    if (registers.length > 0) return tellRegisters(registers, isSerial, options.json === true, say);
    const sentence = stopping.aborted
      ? "Stopped before anything was found."
      : nothingRead(result, isSerial, !options.listenOnly, units);
    if (options.json)
      print(JSON.stringify({ event: "result", settings: null, matches: [], similar: [], sentence }));
    else print(`\n${sentence}`);
    return 1;
  }
  const fits = fittingProfiles(profiles, finding, isSerial);
  const confirmed = stopping.aborted
    ? fits
    : await confirmFits(fits, finding.settings, { transport, clock, refused: complain });
  say(`\n${isSerial ? `Readable at ${settingsText(finding.settings)}. ` : ""}${whatItDoes(finding)}`);
  for (const fit of confirmed) say(fitText(fit));
  const matches = confirmed.filter(({ isMatch }) => isMatch);
  const draft =
    matches.length > 0 || stopping.aborted
      ? null
      : await draftFor({
          address,
          port,
          finding,
          whoAsks: questions.filter(({ purpose }) => purpose === "identity").map(({ text }) => text),
          clock,
          signal: stopping,
          channels,
          title: options.out,
        });
  if (options.json) {
    const names = (some: readonly ProfileFit[]) => some.map(({ profile }) => profile.name);
    print(
      JSON.stringify({
        event: "result",
        settings: isSerial ? settingsText(finding.settings) : null,
        matches: names(matches),
        similar: names(confirmed.filter(({ isMatch }) => !isMatch)),
        draft: draft?.text ?? null,
        sentence: draft?.sentence ?? "",
      }),
    );
  }
  if (draft) await deliver(draft, address, options, say);
  for (const { profile } of matches.slice(0, 1)) say(stationLines(profile, address, transport));
  return matches.length > 0 ? 0 : 1;
}

const RAW_LINES = 8;
async function portTo(transport: TransportSettings, clock: Clock): Promise<ProbePort> {
  const { bytesTo } = await import("../instruments.ts");
  return {
    isSerial: transport.kind === "serial",
    open: (settings) => bytesTo({ name: "probe", transport }, settings, { clock }),
  };
}

/** @throws UsageError where nobody said yes */
async function requireConsent(
  address: string,
  questions: readonly Question[],
  isGiven: true | undefined,
): Promise<void> {
  if (isGiven) return;
  const { UsageError } = await import("../explain.ts");
  const { visible } = await import("../bring-up/heard-bytes.ts");
  const remedy = "give --yes to send them, or --listen-only to send nothing";
  if (!(process.stdin.isTTY && process.stdout.isTTY))
    throw new UsageError(`Questions may go to ${address} only if somebody agrees: ${remedy}.`);
  print(`These go to whatever is on ${address}, at each setting tried until one is answered:`);
  for (const { bytes } of questions) print(`  ${visible(bytes)}`);
  print(
    "and who it is, once more, with the line end that it uses itself; where nothing answers, reads of Modbus registers.",
  );
  print(
    "To some other instrument one of them may be a command. Anything it could move must be isolated and vented.",
  );
  const { createInterface } = await import("node:readline/promises");
  const lines = createInterface({ input: process.stdin, output: process.stdout });
  const answer = await lines.question("Send them? [y/N] ");
  lines.close();
  if (!/^y(es)?$/i.test(answer.trim())) throw new UsageError(`Nothing was sent; ${remedy}.`);
}

/** What to write in a station file. */
function stationLines(profile: LineProfile, address: string, transport: TransportSettings): string {
  const how =
    transport.kind === "tcp"
      ? `{ kind: tcp, host: ${transport.host}, port: ${transport.port} }`
      : `{ kind: serial, port: ${address} }`;
  return `In the station file:\n  profile: ${profile.name}\n  transport: ${how}`;
}

function eventJson(event: ProbeEvent, begun_s: number): object {
  if (event.kind === "sent" || event.kind === "heard") {
    return {
      event: event.kind,
      t_s: Number((event.at_s - begun_s).toFixed(4)),
      hex: event.bytes.toString("hex"),
    };
  }
  const { baud, dataBits, parity, stopBits } = event.settings;
  const settings = { baud, data_bits: dataBits, parity, stop_bits: stopBits };
  return event.kind === "trying"
    ? { event: "trying", settings }
    : { event: "judged", settings, as: event.as.kind };
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}
