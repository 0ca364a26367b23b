import { open } from "node:fs/promises";
import { UsageError } from "../explain.ts";
import { softwareName } from "../package-root.ts";
import type { StudyReport } from "../quality/study-report.ts";
import { replaceFile } from "../records/durable-file.ts";
import { errnoOf, RecordError } from "../records/record-error.ts";
import { studyPage } from "./page-html.ts";

/**
 * Writes a study as a page of its own, whole or not at all; a page that is there already is replaced, any other file not.
 * @param path the file
 * @param source where the values came from, for the page's head
 * @throws UsageError where it can't be written, in one sentence that says what to do
 */
export async function writeStudyPage(
  report: StudyReport,
  path: string,
  source = "not stated",
  madeAt = new Date(),
): Promise<void> {
  await requireOwnPlace(path);
  const page = studyPage(report, { source, madeAt, software: softwareName() });
  try {
    await replaceFile(page, `${path}.${process.pid}.new`, path);
  } catch (error) {
    throw notWritten(path, error instanceof RecordError && error.cause !== undefined ? error.cause : error);
  }
}

/** Nobody's values are lost to a slip of the pen in `--html values.csv`. */
async function requireOwnPlace(path: string): Promise<void> {
  if (path === "") throw new UsageError("--html needs the name of a file, like study.html.");
  let start: string;
  try {
    const file = await open(path, "r");
    try {
      const { buffer, bytesRead } = await file.read(Buffer.alloc(64), 0, 64, 0);
      start = buffer.toString("latin1", 0, bytesRead);
    } finally {
      await file.close();
    }
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return;
    throw notWritten(path, error);
  }
  if (start === "" || /^\s*<!doctype html/i.test(start)) return;
  throw new UsageError(`${path} is there already and is no page: give --html another name.`);
}

function notWritten(path: string, error: unknown): UsageError {
  const why =
    WORDS[errnoOf(error)] ?? `${error instanceof Error ? error.message : String(error)}; check the disk`;
  return new UsageError(`The page ${path} was not written: ${why}.`);
}

const WORDS: Readonly<Record<string, string | undefined>> = {
  ENOENT: "its folder is not there; make it, or give another",
  ENOTDIR: "a part of that path is a file; give a path whose folders are folders",
  EISDIR: "that is a folder; give the name of a file in it",
  EACCES: "you may not write there; give another folder",
  EPERM: "you may not write there; give another folder",
  EROFS: "nothing can be written there; give another folder",
  ENOSPC: "the disk is full; free some space, then try again",
  EDQUOT: "the disk is full; free some space, then try again",
};
