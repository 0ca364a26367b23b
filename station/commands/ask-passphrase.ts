import { askUnseen } from "./ask-unseen.ts";

/** The passphrase from DRUMTIGHT_PASSPHRASE, else asked for without showing what is typed; "" when there is nobody to ask. */
export function askPassphrase(question: string): Promise<string> {
  return askUnseen(question, "DRUMTIGHT_PASSPHRASE");
}
