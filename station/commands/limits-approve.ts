import { Command } from "@commander-js/extra-typings";
import type { Approval } from "../../limits/approval.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { calendarDate } from "../calendar-date.ts";
import { askPassphrase } from "./ask-passphrase.ts";
import { complain, print, readOne } from "./one-limit-file.ts";

const CHECK_FAILED = 1;
const CANNOT_RUN = 2;

/** `drumtight limits approve`: 0 signed, or it was already; 1 it must not be signed; 2 it can't be. */
export function approveCommand() {
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
      const { appendToHistory, approvalBeside, revisionNotRaised } = await import("../limit-history-file.ts");
      const { revisionWarnings } = await import("../revision-warnings.ts");
      const { limitFileText } = await import("../../limits/limit-file.ts");
      const { replaceFile } = await import("../records/durable-file.ts");
      const { readFile } = await import("node:fs/promises");
      await attempt(async () => {
        const privatePem = await readFile(key, "utf8");
        const { limits, text: limitText } = result;
        try {
          const mustRaise = revisionNotRaised(limits);
          if (mustRaise !== null) throw new ApprovalError("REVISION_NOT_RAISED", mustRaise);
          complain(revisionWarnings(limits, null).map(({ sentence }) => `${file}: warning: ${sentence}`));
          const privateKey = openApproverKey(privatePem, await askPassphrase(`Passphrase of ${key}: `));
          const text = signApproval({
            limits,
            approver,
            approvedAt: new Date().toISOString(),
            privateKey,
          });
          const approval = readApproval(text);
          const before = approvalBeside(file);
          const isSigned = before?.sha256 === limits.source.sha256 && isBySame(before, approval);
          if (!isSigned) {
            // The passphrase may have been waited for.
            if (limitFileText(file) !== limitText)
              throw new ApprovalError("CHANGED_MEANWHILE", changed(file));
            // First the history: a revision that judges units is never missing there.
            if (approval) await appendToHistory(file, { approval, text: limitText, privateKey });
            await replaceFile(text, `${approvalPath(file)}.part`, approvalPath(file));
          }
          if (json) print(JSON.stringify(isSigned ? before : JSON.parse(text)));
          else
            print(
              isSigned ? already(approvalPath(file), before) : signed(approvalPath(file), approver, limits),
            );
        } catch (error) {
          if (!(error instanceof ApprovalError)) throw error;
          complain([error.message]);
          process.exitCode = error.code === "KEY_UNUSABLE" ? CANNOT_RUN : CHECK_FAILED;
        }
      });
    });
}

function isBySame(a: Approval, b: Approval | undefined): boolean {
  return a.approver === b?.approver && a.public_key === b.public_key;
}

function already(path: string, { approver, approved_at }: Approval): string {
  return `${path}: approved by ${approver} on ${approved_at.slice(0, 10)} already; nothing was changed`;
}

function signed(path: string, approver: string, { revision, effectiveDate }: ModelLimits): string {
  const isToCome = effectiveDate > calendarDate(Date.now());
  const when = isToCome ? `takes effect on ${effectiveDate}` : `is effective since ${effectiveDate}`;
  return `${path}: approved by ${approver}; revision ${revision} ${when}`;
}

function changed(file: string): string {
  return `${file} was changed while it was being approved. Look at it once more, then approve it. Nothing was signed.`;
}

/** `drumtight limits new-key`. */
export function newKeyCommand() {
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
