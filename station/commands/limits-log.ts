import { Command } from "@commander-js/extra-typings";

/** `drumtight limits log FILE`: 0 told, 1 something does not fit together, 2 a file or folder can't be read. */
export function logCommand() {
  return new Command("log")
    .description("who approved which revision of a limit file when and why, and which of them judged units")
    .argument("<file>", "limit file (YAML)")
    .option(
      "--records <dir>",
      "records folder: also tell which revision judged how many attempts, from when to when",
    )
    .option("--station <file>", "station file: also tell of approvals by keys that it does not list")
    .option("--json", "print one JSON object")
    .addHelpText(
      "after",
      "\nReads FILE.history.jsonl, where limits approve keeps every approval with the text approved, each line signed\nand pointing to the one before." +
        "\n\nExample:\n  $ drumtight limits log tub-12.yaml --records records",
    )
    .action(async (file, { records, station, json }) => {
      const { loadLimitFile } = await import("../../limits/limit-file.ts");
      const { limitLog } = await import("../limit-log.ts");
      const { calendarDate } = await import("../calendar-date.ts");
      const { escaped } = await import("../../limits/escaped-text.ts");
      const { readStationFileAlone } = await import("../load-station.ts");
      const approvers = station === undefined ? null : readStationFileAlone(station).approvers;
      const log = await limitLog(loadLimitFile(file), records ?? null, approvers, calendarDate(Date.now()));
      if (json) {
        process.stdout.write(`${JSON.stringify({ file, ...log })}\n`);
      } else {
        for (const line of linesOf(file, log)) process.stdout.write(`${escaped(line)}\n`);
        for (const problem of log.problems) process.stderr.write(`${escaped(problem)}\n`);
      }
      process.exitCode = log.problems.length === 0 ? 0 : 1;
    });
}

function linesOf(
  file: string,
  log: Awaited<ReturnType<typeof import("../limit-log.ts").limitLog>>,
): string[] {
  const { revision, approved, superseded_by } = log.in_place;
  const superseded = superseded_by === null ? "" : `, superseded by revision ${superseded_by}`;
  const none = log.revisions.length === 0 ? ["no approval is known"] : [];
  return [
    `${log.model}: ${file}, revision ${revision}, ${approved ? "approved" : "not approved"}${superseded}`,
    ...none,
    ...log.revisions.flatMap((one) => {
      const by = one.approver === null ? "never approved" : `approved by ${one.approver}`;
      const when =
        one.approved_at === null ? "" : ` on ${one.approved_at.slice(0, 16).replace("T", " ")} UTC`;
      const from = one.effective_date === null ? "" : `, effective ${one.effective_date}`;
      const author = one.author === null ? "" : `, written by ${one.author}`;
      const { used } = one;
      return [
        `revision ${one.revision}: ${by}${when}${from}${author}`,
        `  ${one.reason ?? "why: not known, its text was not kept here"}`,
        ...(used
          ? [
              `  judged ${used.attempts} ${used.attempts === 1 ? "attempt" : "attempts"}${used.drafts > 0 ? `, ${used.drafts} as a draft` : ""}, ${used.first.slice(0, 10)} to ${used.last.slice(0, 10)}`,
            ]
          : []),
      ];
    }),
  ];
}
