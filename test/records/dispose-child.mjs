// Decisions by the built program in a process of its own: node dispose-child.mjs FOLDER DRAFTS_JSON
// records each of the drafts and prints the numbers they got, a line each.
import { openDispositions } from "../../dist/station/records/dispositions.js";

const [folder, drafts] = process.argv.slice(2);
const dispositions = await openDispositions(folder);
for (const draft of JSON.parse(drafts)) {
  const { chain } = await dispositions.dispose(draft);
  process.stdout.write(`${chain.sequence}\n`);
}
