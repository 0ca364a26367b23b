import { accessSync, constants } from "node:fs";
import { Command } from "@commander-js/extra-typings";
import { acceptLossCommand } from "./audit-accept-loss.ts";
import { newStationKeyCommand } from "./audit-new-key.ts";

interface AuditOptions {
  readonly records?: string;
  readonly station?: string;
  readonly heads?: string;
  readonly publicKey?: readonly string[];
  readonly json?: true;
}

/** `drumtight audit`: 0 every record is as it was recorded, 1 something is not, 2 used wrongly or cannot run. */
export function auditCommand() {
  return (
    new Command("audit")
      // Or it would take the subcommands' --station and --records for its own.
      .enablePositionalOptions()
      .description(
        "Read every record and say what was changed, removed, added, put elsewhere or cut off, and up to where the records can be relied on. Changes nothing; the station may be running.",
      )
      .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
      .option(
        "--station <file>",
        "station file: its records, its key, the copies of its heads, its limit files",
      )
      .option(
        "--heads <dir>",
        "the folder that the heads were copied to: compare them with those in the records",
      )
      .option(
        "--public-key <key...>",
        "the station's public key, and former ones, where there is no station file that says so",
      )
      .option("--json", "print one JSON object")
      .addCommand(newStationKeyCommand())
      .addCommand(acceptLossCommand())
      .addHelpText(
        "after",
        `
A chain shows what was changed in it, and not where its end was cut off: the station's signed heads show that (daily_head in
the station file), and whoever cuts the heads off as well is shown by their copies. Whoever has the station's private key can
sign a history of his own; only copies out of his reach then tell.

Examples:
  $ drumtight audit --station line-2.yaml
  $ drumtight audit --records /backup/line-2 --heads /mnt/quality/heads --public-key MCowBQYDK2VwAyEA... --json`,
      )
      .action(async (options) => {
        process.exitCode = await run(options);
      })
  );
}

/** The station's own copies, where they can be reached now. */
function readableCopies(folder: string | null, notes: string[]): string | null {
  if (folder === null) return null;
  try {
    accessSync(folder, constants.R_OK);
    return folder;
  } catch {
    notes.push(`The copies of the heads in ${folder} can't be reached, and were not compared.`);
    return null;
  }
}

async function run(options: AuditOptions): Promise<0 | 1> {
  const { audit } = await import("../records/audit.ts");
  const { readStationFileAlone } = await import("../load-station.ts");
  const { isApproverKey } = await import("../../limits/approval.ts");
  const { UsageError } = await import("../explain.ts");
  const station = options.station === undefined ? null : readStationFileAlone(options.station);
  const given = options.publicKey ?? [];
  const unusable = given.find((key) => !isApproverKey(key));
  if (unusable !== undefined) {
    throw new UsageError(
      `--public-key: ${JSON.stringify(unusable)} is no Ed25519 public key; give it as drumtight audit new-key printed it.`,
    );
  }
  const head = station?.dailyHead ?? null;
  const keys = [...given, ...(head ? [head.publicKey, ...head.formerPublicKeys] : [])];
  const folder = options.records ?? station?.recordsFolder ?? "records";
  const notes: string[] = [];
  const report = await audit({
    folder,
    keys: keys.length === 0 ? null : keys,
    copiesFolder: options.heads ?? readableCopies(head?.copiesFolder ?? null, notes),
  });
  const { auditLimits } = await import("../audit-limits.ts");
  const limits = station ? auditLimits(station, report.limitFiles) : null;
  if (limits === null) {
    notes.push("The limit files in use were not looked at: give --station for that.");
  }
  const { limitFiles: _, ...told } = report;
  const whole = {
    ...told,
    intact: report.intact && (limits?.findings ?? []).length === 0,
    findings: [...report.findings, ...(limits?.findings ?? [])],
    findingCount: report.findingCount + (limits?.findings.length ?? 0),
    notes: [...report.notes, ...notes, ...(limits?.notes ?? [])],
  };
  if (options.json) process.stdout.write(`${JSON.stringify({ folder, ...whole })}\n`);
  else {
    const { auditText } = await import("../audit-text.ts");
    process.stdout.write(`${auditText(folder, whole)}\n`);
  }
  return whole.intact ? 0 : 1;
}
