import type { Clock } from "../../drivers/ports.ts";
import type { NamedChannel } from "../bring-up/draft-profile.ts";
import type { ProbeFinding, ProbePort } from "../bring-up/probe.ts";

interface Draft {
  readonly text: string | null;
  readonly sentence: string;
}

/** Hears more of an unknown instrument and drafts its profile. */
export async function draftFor(about: {
  readonly address: string;
  readonly port: ProbePort;
  readonly finding: ProbeFinding;
  readonly whoAsks: readonly string[];
  readonly clock: Clock;
  readonly signal: AbortSignal;
  readonly channels: readonly (NamedChannel | null)[];
  readonly title: string | undefined;
}): Promise<Draft> {
  const { studyUnknown } = await import("../bring-up/study-unknown.ts");
  const { draftOf, studyLines } = await import("../bring-up/study-lines.ts");
  const { address, port, finding, whoAsks, clock, signal, channels, title } = about;
  complain("No profile matches; listening to learn what its lines are made of ...");
  const studied = await studyUnknown({
    transport: await port.open(finding.settings),
    finding,
    whoAsks,
    clock,
    signal,
    passed: () => {},
  });
  if (!studied) {
    return {
      text: null,
      sentence:
        "It answers, but none of its answers is a reading. Look up in its manual how it is asked for one, and give it as --ask TEXT; or what sets it sending, as --start TEXT.",
    };
  }
  const study = studyLines(studied);
  if (!study) {
    return {
      text: null,
      sentence: "What it says has no line ends or no numbers, which profiles cannot describe.",
    };
  }
  const named =
    title
      ?.replace(/^.*\//, "")
      .replace(/\.ya?ml$/, "")
      .replaceAll("-", " ") ?? "Unknown gauge";
  const text = draftOf(study, { title: named, port: address, channels });
  return { text, sentence: `Drafted from ${study.form.lines.length} lines.` };
}

/** Writes the draft, or prints it where no file was named. @throws UsageError where it cannot be written */
export async function deliver(
  { text, sentence }: Draft,
  address: string,
  { out, json }: { readonly out?: string; readonly json?: true },
  say: (text: string) => void,
) {
  if (text === null) return say(sentence);
  if (out === undefined) {
    if (!json)
      print(
        `\n${sentence} Save it as a .yaml file beside the station file and fill in what says TODO:\n\n${text}`,
      );
    return;
  }
  const { writeFileSync } = await import("node:fs");
  const { UsageError } = await import("../explain.ts");
  const { whyNot } = await import("../../drivers/why-not.ts");
  try {
    writeFileSync(out, text, { flag: "wx" });
  } catch (error) {
    throw new UsageError(`The draft cannot be written to ${out}: ${whyNot(error)}; give another --out.`);
  }
  say(
    `${sentence} The draft is ${out}: fill in what says TODO, then\n  drumtight gauge check-profile ${out}\n  drumtight gauge watch ${address} --profile ${out}`,
  );
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}
