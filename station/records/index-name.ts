import { join } from "node:path";

/** @returns where a records folder has its index, if it has one */
export function indexPath(folder: string): string {
  return join(folder, ".index.db");
}
