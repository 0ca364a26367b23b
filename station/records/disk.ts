import {
  close,
  closeSync,
  constants,
  open as openCallback,
  openSync,
  readdirSync,
  readFile,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { access, link, mkdir, open, readdir, rename, statfs, unlink } from "node:fs/promises";
import { promisify } from "node:util";
import { CheckedDatabase } from "./checked-database.ts";

/** A file or folder that is open. */
export interface OpenFile {
  writeFile(text: string): Promise<void>;
  /** Resolves when what was written, or the folder's names, would outlive a power cut. */
  sync(): Promise<void>;
  close(): Promise<void>;
}

export type SqlValue = string | number | Buffer | null;

/** The SQLite files of a records folder are used by so much. */
export interface IndexDatabase {
  exec(sql: string): void;
  prepare(sql: string): {
    get(...keys: SqlValue[]): unknown;
    all(...keys: SqlValue[]): unknown[];
    /** Many are given as one list: the package copies what it is given one by one. */
    run(...values: (SqlValue | SqlValue[])[]): unknown;
  };
  close(): void;
}

/**
 * What the record store asks of the disk, and nothing else of it, so that a model of one can stand in its place. Errors are the
 * system's, with their `code` ("ENOSPC").
 */
export interface Disk {
  /** @param flags "wx" makes a file and refuses one that is there; "r" opens a folder, to sync it */
  open(path: string, flags: "wx" | "r", mode?: number): Promise<OpenFile>;
  readFile(path: string): Promise<Buffer>;
  readdir(path: string): Promise<string[]>;
  mkdir(path: string): Promise<void>;
  /** A second name for a file; refuses one that is there. */
  link(path: string, name: string): Promise<void>;
  rename(from: string, to: string): Promise<void>;
  unlink(path: string): Promise<void>;
  /** Throws where it is not there, or not writable where that is asked. */
  access(path: string, wanted: "there" | "writable"): Promise<void>;
  /** Bytes that this user may still write. */
  freeBytes(path: string): Promise<number>;
  /** Makes the file where it is not there. */
  database(path: string): IndexDatabase;
  readNow(path: string): string;
  writeNow(path: string, text: string): void;
  /** Nothing where it is not there. */
  removeNow(path: string): void;
}

/** A pipe in a record's place would be waited for until somebody writes into it: so it is an empty file, or can't be read. Windows has no such flag. */
const NOT_WAITING = constants.O_RDONLY | (constants.O_NONBLOCK ?? 0);

/** The promises' own open and readFile take twice the processor's time, which counts when every record is read. */
const [openNumbered, readNumbered, closeNumbered] = [
  promisify(openCallback),
  promisify(readFile),
  promisify(close),
];

async function readWhole(path: string): Promise<Buffer> {
  const file = await openNumbered(path, NOT_WAITING);
  try {
    return await readNumbered(file);
  } finally {
    await closeNumbered(file);
  }
}

/** Reads a file at once, and waits for no pipe. Errors are the system's. */
export function readWholeNow(path: string): Buffer {
  const file = openSync(path, NOT_WAITING);
  try {
    return readFileSync(file);
  } finally {
    closeSync(file);
  }
}

export const REAL_DISK: Disk = {
  open: (path, flags, mode) => open(path, flags, mode),
  readFile: readWhole,
  readdir: (path) => readdir(path),
  mkdir: (path) => mkdir(path),
  link: (path, name) => link(path, name),
  rename: (from, to) => rename(from, to),
  unlink: (path) => unlink(path),
  access: (path, wanted) => access(path, wanted === "writable" ? constants.W_OK : constants.F_OK),
  async freeBytes(path) {
    const { bavail, bsize } = await statfs(path);
    return bavail * bsize;
  },
  database: (path) => new CheckedDatabase(path),
  readNow: (path) => readWholeNow(path).toString("utf8"),
  writeNow: (path, text) => writeFileSync(path, text),
  removeNow: (path) => rmSync(path, { force: true }),
};

/**
 * For a program that does nothing else meanwhile and reads thousands of small files: handing each to another thread and back takes
 * more of the processor's time than reading it. Not for a station.
 */
export const WAITING_DISK: Disk = {
  ...REAL_DISK,
  readFile: async (path) => readWholeNow(path),
  readdir: async (path) => readdirSync(path),
};
