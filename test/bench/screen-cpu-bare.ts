import { NOBODY } from "../../station/people/person.ts";
import { SimulatedLine } from "../../station/screen/simulated-line.ts";
import { OneByOne } from "../../station/test-one.ts";
import { openSimulatedStation } from "../../station/wiring.ts";

// Its own process, so that its processor time is the station's alone: tests the reference piece that is due first, at
// real pace and without a screen, and prints what that took.
const [recordsFolder = ""] = process.argv.slice(2);
const simulated = await openSimulatedStation({
  seed: 7,
  pace: "real",
  allowDrafts: false,
  recordsFolder,
  onlyModel: "POD-4",
});
simulated.station.signIn(NOBODY);
const one = new OneByOne(simulated.station);
const scan = new SimulatedLine(simulated).takeNext();
const before = process.cpuUsage();
const start_ms = performance.now();
const tested = await one.test(scan);
const { user, system } = process.cpuUsage(before);
const wall_s = (performance.now() - start_ms) / 1000;
if (tested.kind !== "finished") throw new Error(`${scan.serial} was not tested: ${tested.kind}.`);
process.stdout.write(JSON.stringify({ processor_s: (user + system) / 1e6, wall_s }));
await simulated.close();
