import { Command } from "@commander-js/extra-typings";
import type { FileProblem } from "../../limits/checked-yaml.ts";
import type { ModelLimits } from "../../limits/model.ts";
import type { LimitStation } from "../limit-warnings.ts";
import type { E2930Rule } from "../measure/leak/e2930.ts";
import { askPassphrase } from "./ask-passphrase.ts";
import { diffCommand } from "./limits-diff.ts";
import { logCommand } from "./limits-log.ts";
import { replayCommand } from "./limits-replay.ts";

const DONE = 0;
const CHECK_FAILED = 1;
const CANNOT_RUN = 2;

/** `drumtight limits`: check, describe and approve limit files. The actions set process.exitCode. */
export function limitsCommand(): Command {
  return new Command("limits")
    .description("check, compare, approve and replay limit files")
    .addCommand(checkCommand())
    .addCommand(diffCommand())
    .addCommand(logCommand())
    .addCommand(replayCommand())
    .addCommand(schemaCommand())
    .addCommand(approveCommand())
    .addCommand(newKeyCommand())
    .addHelpText("after", "\nExample:\n  $ drumtight limits check limits/models/*.yaml");
}

function checkCommand() {
  return new Command("check")
    .description("name every mistake in limit files: file, line, column, found, expected")
    .argument("<file...>", "limit files (YAML)")
    .option(
      "--station <file>",
      "also name orifices this station has not, and warn of leak limits too fine for it (YAML)",
    )
    .option("--json", "one JSON object per file")
    .addHelpText(
      "after",
      "\nWarns where a leak limit breaks a rule of ASTM E2930; a warning leaves the exit code 0." +
        "\n\nExample:\n  $ drumtight limits check limits/models/tub-12.yaml --station station.yaml",
    )
    .action(async (files, { station: stationPath, json }) => {
      const { limitWarnings } = await import("../limit-warnings.ts");
      const { revisionWarnings } = await import("../revision-warnings.ts");
      const { describeProblem } = await import("../../limits/checked-yaml.ts");
      const stationFor = stationPath === undefined ? null : await openStation(stationPath);
      const unchecked = new Set<E2930Rule>();
      process.exitCode = DONE;
      for (const file of files) {
        const read = await readOne(file);
        const unfit = read.ok ? (stationFor?.unfit(read.limits) ?? []) : [];
        const result: ReadResult =
          unfit.length === 0
            ? read
            : { ok: false, exitCode: CHECK_FAILED, problems: unfit, sentences: unfit.map(describeProblem) };
        if (!result.ok) {
          process.exitCode = Math.max(Number(process.exitCode), result.exitCode);
          if (json) print(JSON.stringify({ file, ok: false, problems: result.problems }));
          else complain(result.sentences);
          continue;
        }
        const { model, revision, source } = result.limits;
        const ofStation = limitWarnings(result.limits, stationFor?.known(result.limits) ?? null);
        const doubts = {
          ...ofStation,
          warnings: [
            ...ofStation.warnings,
            ...revisionWarnings(result.limits, stationFor?.inForce(model) ?? null),
          ],
        };
        for (const rule of doubts.unchecked) unchecked.add(rule);
        if (json) {
          print(JSON.stringify({ file, ok: true, model, revision, sha256: source.sha256, ...doubts }));
          continue;
        }
        print(`${file}: OK, ${model} revision ${revision}`);
        for (const { characteristic, sentence } of doubts.warnings) {
          complain([`${file}: warning: ${characteristic === null ? "" : `${characteristic}: `}${sentence}`]);
        }
      }
      if (!json) complain(uncheckedSentences(unchecked, stationFor !== null));
    });
}

interface StationOfLimits {
  /** The limits of a model that the station has now; null where it has none. */
  inForce(model: string): ModelLimits | null;
  /** What the station knows of a model. */
  known(limits: ModelLimits): LimitStation;
  /** What a limit file asks for and the station has not, at its places. */
  unfit(limits: ModelLimits): readonly FileProblem[];
}

async function openStation(path: string): Promise<StationOfLimits> {
  const { readStationFileAlone } = await import("../load-station.ts");
  const { calibrationsInForce, misnamedCalibrations } = await import("../calibrations-in-force.ts");
  const { readLimitFolder } = await import("../../limits/limit-file.ts");
  const { orificeProblems } = await import("../limit-orifices.ts");
  const { NOT_CALIBRATED } = await import("../cycle/attempt.ts");
  const { byModel, revisionsOn } = await import("../../limits/revisions.ts");
  const { calendarDate } = await import("../calendar-date.ts");
  const station = readStationFileAlone(path);
  const folder = readLimitFolder(station.limitsFolder);
  // Without its limit files nobody can say which models the station has.
  if (folder.kind === "read" && folder.problems.length === 0) {
    const models = [...byModel(folder.models).keys()];
    complain(misnamedCalibrations(path, models).map(({ sentence }) => sentence));
  }
  const known = (limits: ModelLimits) => {
    const found = calibrationsInForce(path, station, [limits], Date.now()).get(limits.model);
    complain(found?.problems.map(({ sentence }) => sentence) ?? []);
    return { knowledge: station.knowledge, calibration: found ?? NOT_CALIBRATED };
  };
  const judging = folder.kind === "read" ? revisionsOn(folder.models, calendarDate(Date.now())) : [];
  const inForce = (model: string) => judging.find((limits) => limits.model === model) ?? null;
  return { known, inForce, unfit: (limits) => orificeProblems(limits, [...station.orificeOutputs.keys()]) };
}

/** Said once, however many files there are. */
function uncheckedSentences(rules: ReadonlySet<E2930Rule>, hasStation: boolean): string[] {
  if (rules.size === 0) return [];
  const remedy = hasStation
    ? "First learn on the tight reference piece how the body settles: drumtight study settle."
    : "They depend on the station: add --station FILE.";
  return [`Not checked of ASTM E2930: ${[...rules].join(", ")}. ${remedy}`];
}

function schemaCommand() {
  return new Command("schema")
    .description("print the JSON Schema of a limit file, for editors")
    .addHelpText("after", "\nExample:\n  $ drumtight limits schema > limit-file.schema.json")
    .action(async () => {
      const { limitFileJsonSchema } = await import("../../limits/limit-file.ts");
      print(JSON.stringify(limitFileJsonSchema(), null, 2));
    });
}

function approveCommand() {
  return new Command("approve")
    .description("sign a limit file as somebody other than its author")
    .argument("<file>", "limit file (YAML)")
    .requiredOption("--as <name>", "your name, as the station file lists it")
    .requiredOption(
      "--key <pem>",
      "your private key file; the passphrase is asked for, or in DRUMTIGHT_PASSPHRASE",
    )
    .option("--json", "print the approval as JSON")
    .addHelpText(
      "after",
      '\nExample:\n  $ drumtight limits approve tub-12.yaml --as "B. Imani" --key imani.pem',
    )
    .action(async (file, { as: approver, key, json }) => {
      const result = await readOne(file);
      if (!result.ok) {
        complain(result.sentences);
        process.exitCode = result.exitCode;
        return;
      }
      const { ApprovalError, approvalPath, openApproverKey, readApproval, signApproval } = await import(
        "../../limits/approval.ts"
      );
      const { appendToHistory, revisionNotRaised } = await import("../limit-history-file.ts");
      const { replaceFile } = await import("../records/durable-file.ts");
      const { readFile } = await import("node:fs/promises");
      await attempt(async () => {
        const privatePem = await readFile(key, "utf8");
        try {
          const mustRaise = revisionNotRaised(result.limits);
          if (mustRaise !== null) throw new ApprovalError("REVISION_NOT_RAISED", mustRaise);
          const privateKey = openApproverKey(privatePem, await askPassphrase(`Passphrase of ${key}: `));
          const text = signApproval({
            limits: result.limits,
            approver,
            approvedAt: new Date().toISOString(),
            privateKey,
          });
          const approval = readApproval(text);
          // First the history: a revision that judges units is never missing there.
          if (approval) await appendToHistory(file, { approval, text: result.text, privateKey });
          await replaceFile(text, `${approvalPath(file)}.part`, approvalPath(file));
          print(json ? JSON.stringify(JSON.parse(text)) : `${approvalPath(file)}: approved by ${approver}`);
        } catch (error) {
          if (!(error instanceof ApprovalError)) throw error;
          complain([error.message]);
          process.exitCode = error.code === "KEY_UNUSABLE" ? CANNOT_RUN : CHECK_FAILED;
        }
      });
    });
}

function newKeyCommand() {
  return new Command("new-key")
    .description("make an approver's key: an encrypted private key file, and the line for the station file")
    .requiredOption("--as <name>", "your name")
    .requiredOption("--out <file>", "where the private key goes; never overwritten")
    .option("--json", "print name and public key as JSON")
    .addHelpText("after", '\nExample:\n  $ drumtight limits new-key --as "B. Imani" --out imani.pem')
    .action(async ({ as: name, out, json }) => {
      const { newApproverKey } = await import("../../limits/approval.ts");
      const { writeFile } = await import("node:fs/promises");
      await attempt(async () => {
        const passphrase = await askPassphrase(`New passphrase for ${out}: `);
        if (passphrase === "") {
          complain(["A private key needs a passphrase."]);
          process.exitCode = CANNOT_RUN;
          return;
        }
        const { privatePem, publicKey } = newApproverKey(passphrase);
        await writeFile(out, privatePem, { flag: "wx", mode: 0o600 });
        if (json) print(JSON.stringify({ name, public_key: publicKey, file: out }));
        else print(`approvers:\n  - { name: ${JSON.stringify(name)}, public_key: ${publicKey} }`);
      });
    });
}

type ReadResult =
  | { readonly ok: true; readonly limits: ModelLimits; readonly text: string }
  | {
      readonly ok: false;
      readonly exitCode: number;
      readonly problems: readonly FileProblem[];
      readonly sentences: readonly string[];
    };

async function readOne(file: string): Promise<ReadResult> {
  const { limitFileText, readLimitFile, UnreadableFile } = await import("../../limits/limit-file.ts");
  const { describeProblem, FileProblems } = await import("../../limits/checked-yaml.ts");
  try {
    const text = limitFileText(file);
    return { ok: true, limits: readLimitFile(file, text), text };
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    const { problems } = error;
    const exitCode = error instanceof UnreadableFile ? CANNOT_RUN : CHECK_FAILED;
    return { ok: false, exitCode, problems, sentences: problems.map(describeProblem) };
  }
}

/** Turns what the file system refuses into one sentence and the exit code for "cannot run". */
async function attempt(work: () => Promise<void>): Promise<void> {
  try {
    await work();
  } catch (error) {
    if (!(error instanceof Error && "code" in error && "path" in error)) throw error;
    complain([`${String(error.path)}: ${SYSTEM_WORDS[String(error.code)] ?? error.message}`]);
    process.exitCode = CANNOT_RUN;
  }
}

const SYSTEM_WORDS: Readonly<Record<string, string>> = {
  ENOENT: "no such file or folder",
  EEXIST: "is there already and is not overwritten",
  EACCES: "not allowed to open it",
};

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

function complain(sentences: readonly string[]): void {
  if (sentences.length === 0) return;
  process.stderr.write(`${sentences.join("\n")}\n`);
}
