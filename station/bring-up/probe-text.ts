import { visible } from "./heard-bytes.ts";
import { splitLines } from "./heard-lines.ts";
import type { ProfileFit } from "./match-profiles.ts";
import { settingsText } from "./port-settings.ts";
import type { ProbeFinding, ProbeResult } from "./probe.ts";
import type { ModbusFit } from "./probe-modbus.ts";

/** What is to be said of a port where nothing could be read. */
export function nothingRead(
  { garbledAt, garbled, lost }: ProbeResult,
  isSerial: boolean,
  hasAsked: boolean,
  units: readonly number[],
): string {
  if (lost) {
    const others =
      "Or somebody else has it, such as the station while it runs: most device servers let in one at a time.";
    return isSerial ? lost.message : `${lost.message} ${others}`;
  }
  if (garbled?.as.kind === "utf16") {
    return "Something talks, but every second byte is NUL: it sends UTF-16 text, which profiles do not describe. Set it to ASCII.";
  }
  if (garbled) {
    const at = garbledAt.map(settingsText).join(", ");
    return isSerial
      ? `Something is there, but under no settings tried can it be read (bytes that are no text at ${at}). Look up its baud rate, data bits and parity and give them as --baud 9600-7E1; or it speaks a binary protocol.`
      : "Something is there, but it says no text: set the device server's baud rate, data bits and parity to the instrument's; or it speaks a binary protocol.";
  }
  const ask = hasAsked
    ? "If its manual names a question for a reading, give it as --ask TEXT, and a command that sets it going as --start TEXT"
    : "It was only listened to: without --listen-only it is asked, too";
  const asUnits =
    units.length === 0
      ? ""
      : ` No Modbus unit ${unitsText(units)} answered either; look up its unit id and give it as --units, or try --units 1-247.`;
  return `Nothing came. Check its supply and the cable (transmit and receive may be crossed), and ${isSerial ? "its baud rate. " : "the device server's settings. "}${ask}.${asUnits}`;
}

/** @example unitsText([1, 2, 3, 4, 7]) // "1-4, 7" */
function unitsText(units: readonly number[]): string {
  const runs: [first: number, last: number][] = [];
  for (const unit of units) {
    const run = runs.at(-1);
    if (run && run[1] === unit - 1) run[1] = unit;
    else runs.push([unit, unit]);
  }
  return runs.map(([first, last]) => (first === last ? `${first}` : `${first}-${last}`)).join(", ");
}

/** One line for each profile of which anything fits. */
export function fitText({ profile, identity, reply, hasOtherSettings, isMatch }: ProfileFit): string {
  const words = [
    {
      fits: "its identity fits",
      other: "another identity",
      silent: "no answer to its identity question",
      none: "it asks no identity",
    }[identity],
    ...(profile.kind === "io_block"
      ? ["nothing else is asked of an I/O block"]
      : [
          {
            fits: "its readings fit",
            other: "other readings",
            silent: "no readings heard as it expects them",
          }[reply],
        ]),
    ...(hasOtherSettings ? [`its own port settings are ${settingsText(profile.port)}`] : []),
  ];
  return `${isMatch ? "Matches" : "Similar"}: ${profile.name} (${profile.title}): ${words.join(", ")}.`;
}

/** How it speaks, and what it answered to what. */
export function whatItDoes({ unasked, answers, start }: ProbeFinding): string {
  if (start) return `It sends by itself once it was sent ${JSON.stringify(start.text)}.`;
  if (unasked.length > 0) return "It sends by itself.";
  const asked = new Map<string, string[]>();
  for (const { question, heard } of answers) {
    const [first] = splitLines(heard, false).lines;
    const answer = visible(Buffer.from(first?.text ?? "", "latin1"));
    asked.set(answer, [...(asked.get(answer) ?? []), question.text]);
  }
  const told = [...asked].map(([answer, questions]) => {
    const [only = ""] = questions;
    return `  ${questions.length === 1 ? only : `${questions.length} other questions`}: ${answer}`;
  });
  return `It answers when asked:\n${told.join("\n")}`;
}

/** One line for a profile of an instrument with Modbus registers. */
export function modbusText(
  { profile, settings, unitId, isMatch, sentence }: ModbusFit,
  isSerial: boolean,
): string {
  const where = `unit ${unitId}${isSerial ? ` at ${settingsText(settings)}` : ""}`;
  const isOwn =
    profile.modbus.unitId === unitId && (!isSerial || settingsText(profile.port) === settingsText(settings));
  return isMatch
    ? `Matches: ${profile.name} (${profile.title}), ${where}${isOwn ? "" : ", otherwise than in its profile: copy that and change it"}${sentence === "" ? "" : `: ${sentence}`}.`
    : `Not ${profile.name}, ${where}: ${sentence}.`;
}
