import { Command } from "@commander-js/extra-typings";

/** `drumtight gauge schema`: what a profile file may say, for editors. */
export function schemaCommand() {
  return new Command("schema")
    .description("print the JSON Schema of a profile file, for editors")
    .addHelpText("after", "\nExample:\n  $ drumtight gauge schema > profile.schema.json")
    .action(async () => {
      const { profileJsonSchema } = await import("../../drivers/profile-schema.ts");
      process.stdout.write(`${JSON.stringify(profileJsonSchema(), null, 2)}\n`);
    });
}
