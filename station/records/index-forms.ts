import type { IndexDatabase } from "./disk.ts";
import { SpoiltIndex } from "./index-moment.ts";
import type { StoredForm } from "./stored-values.ts";

/**
 * The forms of an index by their numbers, each read once.
 * @returns which throws SpoiltIndex for a form that is not there, or is none
 */
export function formsIn(database: Pick<IndexDatabase, "prepare">): (form: number) => StoredForm {
  const known = new Map<number, StoredForm>();
  const asked = database.prepare("SELECT text FROM forms WHERE form = ?");
  return (form) => {
    const met = known.get(form);
    if (met) return met;
    const row = asked.get(form) as { readonly text: string } | undefined;
    if (row === undefined) throw new SpoiltIndex(`The index has no form ${form}.`);
    const read = formOf(row.text);
    known.set(form, read);
    return read;
  };
}

/** @param text as the index keeps it @throws SpoiltIndex for another */
function formOf(text: string): StoredForm {
  try {
    return JSON.parse(text) as StoredForm;
  } catch (error) {
    throw new SpoiltIndex("A form of the index is no JSON.", { cause: error });
  }
}
