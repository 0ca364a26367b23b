import { withChecksum } from "../../drivers/checksum.ts";
import { frame } from "../../drivers/framing.ts";
import type { GaugeProfile, IoBlockProfile, Profile } from "../../drivers/profile.ts";
import type { LineEnd } from "./heard-lines.ts";

/** Profiles whose instruments speak in lines. */
export type LineProfile = GaugeProfile | IoBlockProfile;

export function isLineProfile(profile: Profile): profile is LineProfile {
  return profile.kind === "gauge" || profile.kind === "io_block";
}

/** One line to send to an instrument nobody knows yet. */
export interface Question {
  readonly text: string;
  readonly end: LineEnd;
  readonly bytes: Buffer;
  /** What it asks for; "given" by the engineer. */
  readonly purpose: "identity" | "reading" | "given";
  /** Profiles that ask so. */
  readonly profiles: readonly LineProfile[];
}

/**
 * What known instruments are asked, each line once, who it is before what it reads. Only questions: an I/O block is
 * asked nothing but who it is, and no command of any profile is among them.
 */
export function knownQuestions(profiles: readonly LineProfile[]): Question[] {
  const all = [
    ...profiles.flatMap((profile) =>
      profile.identity ? [questionOf(profile, profile.identity.ask, "identity")] : [],
    ),
    ...profiles.flatMap((profile) =>
      profile.kind === "gauge" && profile.mode.kind === "poll"
        ? [questionOf(profile, profile.mode.ask, "reading")]
        : [],
    ),
  ];
  const once = new Map<string, Question>();
  for (const question of all) {
    const key = question.bytes.toString("latin1");
    const before = once.get(key);
    once.set(key, before ? { ...before, profiles: [...before.profiles, ...question.profiles] } : question);
  }
  // Those that end otherwise come last, so that a change of line end spoils only once.
  return [...once.values()].sort((a, b) => Number(a.end === "CR") - Number(b.end === "CR"));
}

/** A question the engineer has from the manual, with each line end that instruments take, the most accepted first. */
export function givenQuestions(text: string): Question[] {
  const ends = [
    ["CRLF", "\r\n"],
    ["LF", "\n"],
    ["CR", "\r"],
  ] as const;
  return ends.map(([end, bytes]) => ({
    text,
    end,
    bytes: Buffer.from(text + bytes, "latin1"),
    purpose: "given",
    profiles: [],
  }));
}

function questionOf(profile: LineProfile, ask: string, purpose: "identity" | "reading"): Question {
  const checksum = profile.kind === "gauge" && profile.checksum?.sent ? profile.checksum : undefined;
  const text = checksum ? withChecksum(ask, checksum) : ask;
  const end = profile.framing.sendTerminator ?? profile.framing.terminator;
  return { text: ask, end, bytes: frame(text, profile.framing), purpose, profiles: [profile] };
}
