const WORDS: Readonly<Record<string, string>> = {
  ENOENT: "there is no such file or folder",
  ENOTDIR: "a part of its path is no folder",
  EISDIR: "it is a folder, not a file",
  EACCES: "this user may not do that there",
  EPERM: "this user may not do that there",
  EROFS: "that disk is read-only",
  ENOSPC: "the disk is full",
  ENAMETOOLONG: "its name is too long",
  ELOOP: "its links lead round in a circle",
};

/**
 * Why a file could not be read or written, as a sentence's end; what the system says where it has no plain words.
 * @example whyNot(error) // "there is no such file or folder", of ENOENT
 */
export function whyNot(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const code = "code" in error ? String(error.code) : "";
  return WORDS[code] ?? error.message;
}
