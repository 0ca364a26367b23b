import { checkLine } from "../../drivers/checksum.ts";
import type { HeardBytes } from "./heard-bytes.ts";
import { splitLines } from "./heard-lines.ts";
import { settingsText } from "./port-settings.ts";
import type { ProbeFinding } from "./probe.ts";
import type { LineProfile } from "./questions.ts";

/** How one profile fits what was heard. */
export interface ProfileFit {
  readonly profile: LineProfile;
  readonly identity: "fits" | "other" | "silent" | "none";
  readonly reply: "fits" | "other" | "silent";
  /** The port was found set otherwise than the profile says. */
  readonly hasOtherSettings: boolean;
  /** All that the profile checks fits. */
  readonly isMatch: boolean;
}

/**
 * Holds profiles against what was heard. An I/O block is known by its identity alone: nothing else is asked of it.
 * @returns those of which anything fits, matches first
 */
export function fittingProfiles(
  profiles: readonly LineProfile[],
  finding: ProbeFinding,
  isSerial: boolean,
): ProfileFit[] {
  return profiles
    .map((profile) => fitOf(profile, finding, isSerial))
    .filter(({ identity, reply }) => identity === "fits" || reply === "fits")
    .sort((a, b) => Number(b.isMatch) - Number(a.isMatch));
}

function fitOf(profile: LineProfile, finding: ProbeFinding, isSerial: boolean): ProfileFit {
  const identity = identityOf(profile, finding);
  const reply = replyOf(profile, finding);
  const isMatch =
    profile.kind === "io_block"
      ? identity === "fits"
      : (reply === "fits" && (identity === "fits" || identity === "none")) ||
        // One that has to be set going first: that it then talks as it should is seen when it is tried.
        (reply === "silent" && identity === "fits" && profile.startUp.length > 0);
  const hasOtherSettings = isSerial && settingsText(profile.port) !== settingsText(finding.settings);
  return { profile, identity, reply, hasOtherSettings, isMatch };
}

function identityOf(profile: LineProfile, { answers }: ProbeFinding): ProfileFit["identity"] {
  const { identity } = profile;
  if (!identity) return "none";
  const lines = answers
    .filter(({ question }) => question.text === identity.ask)
    .flatMap(({ heard }) => linesOf(profile, heard));
  if (lines.length === 0) return "silent";
  return lines.some((line) => identity.expect.test(line)) ? "fits" : "other";
}

function replyOf(profile: LineProfile, { answers, unasked }: ProbeFinding): ProfileFit["reply"] {
  if (profile.kind === "io_block") return "silent";
  const { mode, reply } = profile;
  const lines =
    mode.kind === "stream"
      ? linesOf(profile, unasked).slice(1)
      : answers
          .filter(({ question }) => question.text === mode.ask)
          .flatMap(({ heard }) => linesOf(profile, heard));
  if (lines.length === 0) return "silent";
  return lines.every((line) => reply.test(line)) ? "fits" : "other";
}

/** Lines as the profile frames them, without the checksum it expects; a line that lacks it is none of its own. */
function linesOf(profile: LineProfile, heard: readonly HeardBytes[]): string[] {
  const { end, lines } = splitLines(heard, false);
  if (end === null || (end === "CR") !== (profile.framing.terminator === "CR")) return [];
  const checksum = profile.kind === "gauge" ? profile.checksum : undefined;
  if (!checksum) return lines.map(({ text }) => text);
  return lines.map(({ text }) => {
    const checked = checkLine(text, checksum);
    return checked.ok ? checked.text : "";
  });
}
