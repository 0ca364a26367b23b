import { Command, Option } from "@commander-js/extra-typings";
import { ROLES } from "../people/person.ts";
import type { Where } from "./people-desk.ts";

/** `drumtight people`: 0 done, 2 used wrongly, not allowed, or cannot run. */
export function peopleCommand(): Command {
  return new Command("people")
    .description("say who may sign in at a station, and as what")
    .addCommand(addCommand())
    .addCommand(changeCommand())
    .addCommand(disableCommand())
    .addCommand(enableCommand())
    .addCommand(unlockCommand())
    .addCommand(listCommand())
    .addHelpText(
      "after",
      `
Everybody has a name, a role (inspector, engineer, supervisor) and a PIN of 4 to 12 digits, and may have a badge. PINs and
badges are asked for without being shown, and kept as hashes only. The first person must be a supervisor; from then on
supervisors change the file, with --as and their PIN. A station that runs follows at once.

Where nobody can type, they are taken from the environment: DRUMTIGHT_PIN (of --as), DRUMTIGHT_NEW_PIN,
DRUMTIGHT_NEW_BADGE.

Examples:
  $ drumtight people add "B. Imani" --role supervisor --badge --station line-2.yaml
  $ drumtight people add "A. Marsh" --role inspector --badge --station line-2.yaml --as "B. Imani"
  $ drumtight people disable "A. Marsh" --station line-2.yaml --as "B. Imani"`,
    );
}

function addCommand() {
  return forPeople("add", "add somebody, with a PIN and perhaps a badge")
    .argument("<name>", 'as records will tell it, like "A. Marsh"')
    .addOption(new Option("--role <role>", "what they may do").choices(ROLES).makeOptionMandatory())
    .option("--badge", "they have a badge: scan it when it is asked for")
    .addHelpText("after", example('add "A. Marsh" --role inspector --badge'))
    .action(async (text, { role, badge: hasBadge, ...where }) => {
      const { addPerson, requireAddable } = await import("../people/edit-people.ts");
      const desk = await openDesk(where);
      const name = desk.requireName(text);
      const edit = await desk.authorise();
      // Before anybody types a PIN twice for nothing.
      requireAddable(await desk.read(), { name, role }, edit);
      const pin = await desk.newPin(name);
      const badge = hasBadge ? await desk.newBadge(name) : null;
      await desk.edit((now) => addPerson(now, { name, role, pin, badge }, edit));
      print(
        `${name} may sign in as ${role}, with ${badge === null ? "name and PIN" : "badge, or name and PIN"}.`,
      );
    });
}

function changeCommand() {
  return forPeople("change", "give somebody another role, PIN or badge")
    .argument("<name>", "who is changed")
    .addOption(new Option("--role <role>", "what they may do from now on").choices(ROLES))
    .option("--pin", "a new PIN is asked for, and the name is unlocked")
    .option("--badge", "a new badge is asked for; the old one is void")
    .option("--no-badge", "the badge is taken from them")
    .addHelpText("after", example('change "A. Marsh" --badge'))
    .action(async (text, { role, pin: newPin, badge: newBadge, ...where }) => {
      const { changePerson, filled, requirePerson } = await import("../people/edit-people.ts");
      const { UsageError } = await import("../explain.ts");
      if (role === undefined && newPin === undefined && newBadge === undefined) {
        throw new UsageError("Say what is changed: --role, --pin, --badge or --no-badge.");
      }
      const desk = await openDesk(where);
      const edit = await desk.authorise();
      const { name } = requirePerson(filled(await desk.read()), text);
      const change = {
        ...(role === undefined ? {} : { role }),
        ...(newPin ? { pin: await desk.newPin(name) } : {}),
        ...(newBadge === undefined ? {} : { badge: newBadge ? await desk.newBadge(name) : null }),
      };
      await desk.edit((now) => changePerson(now, name, change, edit));
      if (newPin) await desk.unlock(name);
      print(`${name} is changed.`);
    });
}

function disableCommand() {
  return forPeople("disable", "let somebody sign in no more; records keep the name")
    .argument("<name>", "who may sign in no more")
    .addHelpText("after", example('disable "A. Marsh"'))
    .action(async (name, where) => {
      const { disablePerson } = await import("../people/edit-people.ts");
      const desk = await openDesk(where);
      const edit = await desk.authorise();
      await desk.edit((now) => disablePerson(now, name, edit));
      print(`${await desk.nameOf(name)} can sign in no more.`);
    });
}

function enableCommand() {
  return forPeople("enable", "let somebody who was disabled sign in again")
    .argument("<name>", "who may sign in again")
    .addHelpText("after", example('enable "A. Marsh"'))
    .action(async (name, where) => {
      const { enablePerson } = await import("../people/edit-people.ts");
      const desk = await openDesk(where);
      const edit = await desk.authorise();
      await desk.edit((now) => enablePerson(now, name, edit));
      print(`${await desk.nameOf(name)} can sign in again.`);
    });
}

function unlockCommand() {
  return forPeople("unlock", "forget wrong tries, so that nobody has to wait")
    .argument("[name]", "whose wrong PINs are forgotten")
    .option("--badges", "the wrong badges are forgotten, which belong to nobody")
    .addHelpText("after", example('unlock "A. Marsh"'))
    .action(async (name, { badges, ...where }) => {
      const { UsageError } = await import("../explain.ts");
      if ((name === undefined) === (badges === undefined)) {
        throw new UsageError("Say what is unlocked: a name, or --badges.");
      }
      const desk = await openDesk(where);
      await desk.authorise();
      const had = name === undefined ? await desk.unlockBadges() : await desk.unlock(name);
      const whose = name === undefined ? "badge" : `PIN of ${await desk.nameOf(name)}`;
      print(had ? `Every wrong ${whose} is forgotten.` : `There was no wrong ${whose}: nothing was locked.`);
    });
}

function listCommand() {
  return new Command("list")
    .description("list who may sign in, who is disabled, and who is locked")
    .option("--people <file>", "the people file (JSON)")
    .option("--station <file>", "or the station file that names it")
    .option("--json", "print one JSON object")
    .addHelpText("after", "\nExample:\n  $ drumtight people list --station line-2.yaml")
    .action(async ({ json, ...where }) => {
      const { filled } = await import("../people/edit-people.ts");
      const { peopleText, peopleJson } = await import("../people/people-text.ts");
      const desk = await openDesk(where);
      const people = filled(await desk.read());
      const now_ms = Date.now();
      const locked = await desk.tries.locked(now_ms);
      print(json ? JSON.stringify(peopleJson(people, locked)) : peopleText(people, locked, now_ms));
    });
}

function forPeople(name: string, description: string) {
  return new Command(name)
    .description(description)
    .option("--people <file>", "the people file (JSON); the first add makes it")
    .option("--station <file>", "or the station file that names it")
    .option("--as <supervisor>", "your name; your PIN is asked for");
}

function example(words: string): string {
  return `\nExample:\n  $ drumtight people ${words} --station line-2.yaml --as "B. Imani"`;
}

async function openDesk(where: Where) {
  const { PeopleDesk } = await import("./people-desk.ts");
  return new PeopleDesk(where);
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
