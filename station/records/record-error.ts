export type RecordErrorCode =
  | "DISK_FULL"
  | "NOT_WRITABLE"
  | "NOT_READABLE"
  | "FOLDER_GONE" // it was there, and is not any more (unmounted, moved, deleted)
  | "FOLDER_MISSING"
  | "FOLDER_IN_USE" // another station writes here
  | "RECORD_EXISTS" // a file of that name is there already; nothing was overwritten
  | "ATTEMPT_TAKEN" // that attempt of that serial is open or recorded
  | "NOT_OPEN" // the attempt was not begun here, or has its traveller
  | "INVALID_RECORD" // what was to be written is not a valid record
  | "CORRUPT" // what is on disk is not what was recorded
  | "IN_DOUBT" // a write failed and could not be taken back
  | "IO_FAILED";

/** Anything that keeps a record from being written or read. The message says what to do. */
export class RecordError extends Error {
  readonly code: RecordErrorCode;
  /** The file or folder it is about, "" where it is about none. */
  readonly path: string;
  constructor(code: RecordErrorCode, path: string, message: string, options?: { cause?: unknown }) {
    super(message, options);
    this.name = "RecordError";
    this.code = code;
    this.path = path;
  }
}

/**
 * A failed file operation in the words of the person at the station.
 * @param doing what was being done, as the start of a sentence: "The traveller could not be written"
 */
export function fileError(error: unknown, path: string, doing: string): RecordError {
  if (error instanceof RecordError) return error;
  const errno = errnoOf(error);
  const told = TOLD[errno] ?? { code: "IO_FAILED", todo: "Check the disk." };
  const why = error instanceof Error ? error.message : String(error);
  return new RecordError(told.code, path, `${doing} (${why}). ${told.todo}`, { cause: error });
}

/** As `fileError`, for what was only to be read: it asks for no more than that. */
export function readError(error: unknown, path: string, doing: string): RecordError {
  if (error instanceof RecordError || !["EACCES", "EPERM"].includes(errnoOf(error))) {
    return fileError(error, path, doing);
  }
  return new RecordError(
    "NOT_READABLE",
    path,
    `${doing}: the user who asks may not read it. Give that user read access to the records folder and all that is in it.`,
    { cause: error },
  );
}

/** @param why what is wrong with the file, as a sentence's end: "it was changed after it was recorded" */
export function notAsRecorded(file: string, why: string, cause?: unknown): RecordError {
  return new RecordError(
    "CORRUPT",
    file,
    `The record ${file} is not as it was recorded: ${why}. Keep the folder as evidence, restore it from a backup or choose another records folder, and tell the quality engineer.`,
    { cause },
  );
}

/** @throws RecordError FOLDER_MISSING when a records folder is named by an empty text, which would mean this folder */
export function requireFolderName(folder: string): void {
  if (folder !== "") return;
  throw new RecordError("FOLDER_MISSING", "", "The name of the records folder is empty: give a folder.");
}

/** @returns the system's error name such as "ENOSPC", or "" where there is none */
export function errnoOf(error: unknown): string {
  return error instanceof Error && "code" in error && typeof error.code === "string" ? error.code : "";
}

const FULL = {
  code: "DISK_FULL",
  todo: "The disk is full: free some space, then acknowledge the fault.",
} as const;
const READ_ONLY = {
  code: "NOT_WRITABLE",
  todo: "Give the station's user write access to the records folder, or choose another one.",
} as const;
const GONE = {
  code: "FOLDER_GONE",
  todo: "The records folder is not there any more: check that its disk is connected, then start the station again.",
} as const;

/** In a record's place: whoever moved it away would lose what was recorded there without a trace. */
const NO_RECORD = {
  code: "CORRUPT",
  todo: "A folder lies where a record belongs: keep the records folder as evidence, restore it from a backup, and tell the quality engineer.",
} as const;

const TOLD: Readonly<Record<string, { readonly code: RecordErrorCode; readonly todo: string } | undefined>> =
  {
    ENOSPC: FULL,
    EDQUOT: FULL,
    SQLITE_FULL: FULL,
    EROFS: READ_ONLY,
    EACCES: READ_ONLY,
    EPERM: READ_ONLY,
    SQLITE_READONLY: READ_ONLY,
    ENOENT: GONE,
    ENODEV: GONE,
    ENOTDIR: {
      code: "NOT_WRITABLE",
      todo: "A part of that path is a file, not a folder: choose another records folder.",
    },
    ESTALE: GONE,
    EISDIR: NO_RECORD,
    // Of Node's own `rm`, of what is no evidence.
    ERR_FS_EISDIR: {
      code: "IO_FAILED",
      todo: "A folder lies where a file belongs that can be made anew: move it out of the records folder.",
    },
    EEXIST: {
      code: "RECORD_EXISTS",
      todo: "A file of that name is there already and was left alone: move it out of the records folder, then start the station again.",
    },
  };
