#!/usr/bin/env node
import { commandLine } from "./command-line.ts";
import { endOnLostOutput } from "./lost-output.ts";

endOnLostOutput();
await commandLine(process.argv.slice(2));
