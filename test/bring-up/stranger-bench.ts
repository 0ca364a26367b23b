import type { Profile } from "../../drivers/profile.ts";
import { ownProfilesFolder, readProfile } from "../../drivers/profile-file.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { Stranger } from "../../sim/instruments/stranger.ts";
import type { StrangerTraits } from "../../sim/instruments/stranger-traits.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import type { NamedChannel } from "../../station/bring-up/draft-profile.ts";
import { profilesIn } from "../../station/bring-up/known-profiles.ts";
import { likelySettings } from "../../station/bring-up/port-settings.ts";
import { type ProbeOptions, type ProbeResult, probe } from "../../station/bring-up/probe.ts";
import { givenQuestions, isLineProfile, knownQuestions } from "../../station/bring-up/questions.ts";
import { draftOf, studyLines } from "../../station/bring-up/study-lines.ts";
import { studyUnknown } from "../../station/bring-up/study-unknown.ts";
import { openGauge } from "../../station/instruments.ts";

export const LINE_PROFILES = profilesIn([ownProfilesFolder()], (sentence) => {
  throw new Error(sentence);
}).filter(isLineProfile);

/** A stranger on a simulated serial line, and an engineer who has its manual's question and nothing else. */
export class StrangerBench {
  readonly clock = new VirtualClock();
  readonly stranger: Stranger;
  readonly traits: StrangerTraits;
  /** Everything sent, under whatever settings. */
  readonly sent: string[] = [];
  pressure_Pa = 0;

  constructor(traits: StrangerTraits, seed: number) {
    this.traits = traits;
    this.stranger = new Stranger({
      name: "stranger",
      clock: this.clock,
      seed,
      traits,
      pressure_Pa: () => this.pressure_Pa,
    });
  }

  /** As a serial port: what is not set as the instrument is garbles. */
  cable(settings: SerialSettings): MemoryTransport {
    return new MemoryTransport({
      instrument: "stranger",
      clock: this.clock,
      attach: (far) => {
        this.stranger.attach(far);
        this.stranger.heardWith(settings);
      },
    });
  }

  probe(more: Partial<ProbeOptions> = {}): Promise<ProbeResult> {
    const { kind, ask, start } = this.traits;
    return this.clock.runUntil(
      probe({
        port: { isSerial: true, open: async (settings) => this.cable(settings) },
        clock: this.clock,
        signal: new AbortController().signal,
        settings: likelySettings(LINE_PROFILES.map(({ port }) => port)),
        questions: knownQuestions(LINE_PROFILES),
        given: kind === "polled" ? [givenQuestions(ask)] : [],
        start: kind === "started" ? givenQuestions(start) : [],
        listen_s: 0.7,
        saw: (event) => {
          if (event.kind === "sent") this.sent.push(event.bytes.toString("latin1"));
        },
        ...more,
      }),
    );
  }

  /** @returns the text of the draft that follows from what the probe found */
  async draft(result: ProbeResult, channels: readonly (NamedChannel | null)[] = []): Promise<string> {
    const { finding } = result;
    if (!finding) throw new Error("nothing was found");
    const studied = await this.clock.runUntil(
      studyUnknown({
        transport: this.cable(finding.settings),
        finding,
        whoAsks: knownQuestions(LINE_PROFILES)
          .filter(({ purpose }) => purpose === "identity")
          .map(({ text }) => text),
        clock: this.clock,
        signal: new AbortController().signal,
        passed: () => {},
      }),
    );
    const study = studied && studyLines(studied);
    if (!study) throw new Error("it has no lines to study");
    return draftOf(study, { title: "Stranger", port: "/dev/ttyUSB0", channels });
  }

  /** One reading through the driver the station would use. */
  async read(draft: string) {
    const profile: Profile = readProfile("draft", "draft.yaml", draft);
    const gauge = await openGauge(
      { name: "stranger", profile: "draft", transport: { kind: "memory" }, identity: null },
      {
        profiles: new Map([["draft", profile]]),
        clock: this.clock,
        attach: () => (far) => void this.stranger.attach(far),
      },
    );
    await this.clock.runUntil(gauge.connect());
    const readings = await this.clock.runUntil(gauge.read());
    await gauge.close();
    return readings;
  }
}
