import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { readFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { onTestFinished } from "vitest";
import { verifyChain } from "../../station/records/chain.ts";
import { listRecords } from "../../station/records/record-name.ts";
import { Traveller } from "../../station/records/traveller.ts";

/** A fresh folder that goes away with the test. */
export function scratchFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-records-"));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/** A small disk of its own, mounted for the test. Needs the right to mount; where that is refused the test fails. */
export function scratchDisk(size_kB: number): string {
  return mounted("-t", "tmpfs", "-o", `size=${size_kB}k`, "tmpfs");
}

/** The same folder once more, at a place where it is read-only. */
export function readOnlyView(folder: string): string {
  const view = mounted("--bind", folder);
  mount("-o", "remount,bind,ro", view);
  return view;
}

function mounted(...args: string[]): string {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-disk-"));
  mount(...args, folder);
  onTestFinished(() => {
    execFileSync("umount", ["-l", folder]);
    rmSync(folder, { recursive: true, force: true });
  });
  return folder;
}

function mount(...args: string[]): void {
  try {
    execFileSync("mount", args, { stdio: "pipe" });
  } catch (cause) {
    throw new Error("This test needs a disk of its own and the right to mount it: run it as root.", {
      cause,
    });
  }
}

/** Every traveller of a folder, read from its files and checked link by link. */
export async function travellersIn(folder: string): Promise<Traveller[]> {
  const files = await Promise.all(
    (await listRecords(folder)).map(async ({ path }) => ({
      path,
      bytes: await readFile(join(folder, path)),
    })),
  );
  const report = await verifyChain(files);
  if (!report.ok) throw new Error(`${report.path}: ${report.problem}`);
  return files.map(({ bytes }) => Traveller.parse(JSON.parse(bytes.toString())));
}
