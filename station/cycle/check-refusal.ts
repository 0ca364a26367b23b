import { CHECK_SCHEMES, checkCharacters } from "../../limits/check-characters.ts";
import { escaped } from "../../limits/escaped-text.ts";
import type { CheckScheme, ModelLimits } from "../../limits/model.ts";
import type { Reason } from "./reason.ts";

/** Characters of a text in a sentence. A serial is shorter, and has to be shown whole to be found on its label. */
const MOST_SHOWN = 64;

/**
 * What is wrong with the check characters of a unit's serial and of its parts, each named.
 * @param scan of a unit of this model; parts the model doesn't track are passed over
 * @returns no reason where they are right, or none are asked for
 * @example
 * refuseChecks({ serial: "POD531814", parts: {} }, pod) // of a model with mod-37-36
 * // [{ code: "CHECK_CHARACTER_WRONG", sentence: "POD531814: the check character says 4 and must be 7. Scan the label again." }]
 */
export function refuseChecks(
  scan: { readonly serial: string; readonly parts: Readonly<Record<string, string>> },
  limits: ModelLimits,
): Reason[] {
  return [
    ...refuseCheck(null, scan.serial, limits.serialCheck),
    ...limits.parts.flatMap(({ name, check }) => {
      const value = Object.hasOwn(scan.parts, name) ? scan.parts[name] : undefined;
      return value === undefined ? [] : refuseCheck(name, value, check);
    }),
  ];
}

/**
 * @param part name of the tracked part the text is of; null for a unit's serial
 * @returns no reason, or one
 */
export function refuseCheck(part: string | null, text: string, scheme: CheckScheme | null): Reason[] {
  if (scheme === null) return [];
  const checked = checkCharacters(scheme, text);
  if (checked.ok) return [];
  const { name, characters, count } = CHECK_SCHEMES[scheme];
  const what = part === null ? "" : `${part.replaceAll("_", " ")} `;
  const shown = `${what}${escaped([...text].slice(0, MOST_SHOWN).join(""))}`;
  const wrong = {
    check: `the ${characters} ${count === 1 ? "says" : "say"} ${checked.found} and must be ${checked.expected}`,
    alphabet: `${escaped(JSON.stringify(checked.found))} can't be in it; with a ${name} ${characters} it has ${checked.expected}`,
    length: `it is too short to have a ${name} ${characters}`,
  }[checked.fault];
  return [{ code: "CHECK_CHARACTER_WRONG", sentence: `${shown}: ${wrong}. Scan the label again.` }];
}
