import type { Clock } from "../../drivers/ports.ts";
import type { StationController } from "../controller.ts";
import type { ModelInForce } from "../cycle/refusals.ts";
import type { Scan } from "../cycle/scan.ts";
import { NOBODY, type SignedIn } from "../people/person.ts";
import type { SignIn, SignInAnswer } from "../people/sign-in.ts";
import type { Tally } from "../report.ts";
import type { StationFile } from "../station-file.ts";
import { shiftSummaryLines } from "../yield/shift-text.ts";
import { afterNews, type News } from "./after-news.ts";
import type { Deed } from "./deed.ts";
import { failedSignIn, messageOf, noBody, noSummary, PARTS_DROPPED } from "./desk-answers.ts";
import type { Key } from "./keys.ts";
import { type Line, NO_LINE } from "./line-editor.ts";
import { type LineReader, lineReader } from "./line-reader.ts";
import { Observer } from "./observer.ts";
import { lineLeft, press, withLine } from "./press.ts";
import { afterLook, firstQuestion, type ScreenState, SUMMARY_WIDTH, startState } from "./screen-state.ts";
import type { SimulatedLine } from "./simulated-line.ts";
import { isEscUrgent, isIdle, isUnderWay } from "./station-states.ts";

/** Frames are drawn at most this often; looking oftener would show nothing more. */
const LOOK_EVERY_ms = 100;

export interface DeskParts {
  readonly station: StationController;
  readonly clock: Clock;
  /** Paces the frames, where the station's own clock runs faster than people can look. */
  readonly frames?: Clock;
  readonly file: StationFile;
  /** Models on the line. */
  readonly models: readonly ModelInForce[];
  readonly allowDrafts: boolean;
  readonly tally: Tally;
  /** Where people sign in. */
  readonly signIn?: Pick<SignIn, "problem" | "byBadge" | "byPin">;
  /** Given on a simulated station. */
  readonly line?: SimulatedLine;
  /** As said on the command line. */
  readonly inspector?: string;
  readonly remark?: string;
}

/** Between the station and the screen: hears the one, obeys the keys of the other, and keeps what is shown. */
export class Desk {
  readonly #parts: DeskParts;
  #reader: LineReader;
  #models: readonly ModelInForce[];
  readonly #observer: Observer;
  readonly #watchers = new Set<() => void>();
  #state: ScreenState;
  /** May hold a secret; what of it may be drawn is in the state. */
  #line: Line = NO_LINE;
  /** The unit that was scanned with parts scanned before it, until the station has answered. */
  #gaveParts: string | null = null;
  #active_s: number;
  #timer: unknown;
  #left: () => void = () => {};
  #leftAtOnce: () => void = () => {};
  /** Resolves when somebody has asked to leave and nothing runs any more: the station may be closed. */
  readonly left: Promise<void>;
  /** Resolves when somebody asks to leave for the second time and will not wait. */
  readonly leftAtOnce: Promise<void>;

  constructor(parts: DeskParts) {
    this.#parts = parts;
    this.left = new Promise((resolve) => {
      this.#left = resolve;
    });
    this.leftAtOnce = new Promise((resolve) => {
      this.#leftAtOnce = resolve;
    });
    const { station, clock, file, models, allowDrafts, line, inspector, remark } = parts;
    this.#models = models;
    this.#reader = this.#readerOf(models);
    this.#observer = new Observer({
      station,
      clock,
      file,
      models: () => this.#models,
      next: () => line?.next ?? null,
    });
    this.#active_s = clock.now_s();
    this.#state = startState(
      {
        name: file.name,
        isSimulated: file.isSimulated,
        handsAreSimulated: line !== undefined,
        signIn: file.signIn.kind,
        readsFlow: file.gauges.some(({ channels }) => channels.has("flow")),
        draftModels: draftsOf(models, allowDrafts),
      },
      this.#observer.look({ overlay: null, faultyInstruments: [] }),
      { who: inspector === undefined ? NOBODY : stated(inspector), remark: remark ?? null },
    );
    this.#listen();
    this.#lookLater();
    void this.#sayWhyNobodyCanSignIn();
  }

  /** Scans are read, and drafts marked, by the limits that judge now. */
  #limitsChanged(models: readonly ModelInForce[]): void {
    this.#models = models;
    this.#reader = this.#readerOf(models);
    const draftModels = draftsOf(models, this.#parts.allowDrafts);
    this.#show({ ...this.#state, facts: { ...this.#state.facts, draftModels } });
  }

  #readerOf(models: readonly ModelInForce[]): LineReader {
    const { file } = this.#parts;
    return lineReader({
      models: models.map(({ limits }) => limits),
      referenceSerials: file.referenceCheck?.pieces.map(({ serial }) => serial) ?? [],
      badge: file.signIn.kind === "people" ? file.signIn.badge : null,
    });
  }

  get #frames(): Clock {
    return this.#parts.frames ?? this.#parts.clock;
  }

  get state(): ScreenState {
    return this.#state;
  }

  /** @returns whether Esc must count before it is known that no other key's bytes follow */
  get isEscUrgent(): boolean {
    return isEscUrgent({ machine: this.#parts.station.state() });
  }

  /** @returns stop */
  watch(changed: () => void): () => void {
    this.#watchers.add(changed);
    return () => {
      this.#watchers.delete(changed);
    };
  }

  key(key: Key): void {
    this.#active_s = this.#parts.clock.now_s();
    const waiting = this.#state.waitingParts;
    const { state, line, deed } = press(this.#looked(), this.#line, key, this.#reader);
    this.#line = line;
    this.#show(state);
    if (deed.do === "scan" && Object.keys(waiting).length > 0 && state.waitingParts !== waiting) {
      this.#gaveParts = deed.scan.serial;
    }
    this.#do(deed);
  }

  /** As Ctrl-C does. */
  leave(): void {
    if (this.#state.page !== "leaving") this.key({ kind: "interrupt" });
  }

  /** Looks no more. */
  close(): void {
    this.#frames.clearTimeout(this.#timer);
    this.#watchers.clear();
  }

  #do(deed: Deed): void {
    const { station, line, signIn } = this.#parts;
    switch (deed.do) {
      case "sign_in":
        station.signIn(deed.name === null ? NOBODY : stated(deed.name));
        break;
      case "try_badge":
        if (signIn) void this.#signInAs(() => signIn.byBadge(deed.badge));
        break;
      case "try_pin":
        if (signIn) void this.#signInAs(() => signIn.byPin(deed.name, deed.pin));
        break;
      case "sign_out":
        this.#signOut();
        break;
      case "sum_up":
        void this.#sumUp();
        break;
      case "scan":
        this.#scan(deed.scan);
        break;
      case "add_parts":
        station.addParts(deed.parts);
        break;
      case "choose_reason":
        station.chooseRetestReason(deed.index);
        break;
      case "put_on_next":
        if (line) station.scan(line.takeNext());
        break;
      case "simulate":
        if (line) this.#tell({ type: "warned", sentence: line.obey(deed.words) });
        break;
      case "start":
        station.start();
        break;
      case "abort":
        station.abort();
        break;
      case "leave":
        station.abortForStop();
        break;
      case "acknowledge":
        station.acknowledge();
        break;
      case "leave_at_once":
        this.#leftAtOnce();
        break;
      case "nothing":
        break;
    }
  }

  /** On a simulated station the body has to be put on first, and only where nothing is under way. */
  #scan(scan: Scan): void {
    const { station, line } = this.#parts;
    const machine = station.state();
    const isFree = !isUnderWay({ machine }) && machine !== "faulted" && machine !== "signedOut";
    const mustBePutOn = line !== undefined && isFree && !scan.misread;
    const isThere = !mustBePutOn || line.putOn(scan.serial);
    const isOurs = this.#models.some(({ limits }) => limits.serialPattern.test(scan.serial));
    station.scan(isThere || !isOurs ? scan : { ...scan, misread: [noBody(scan.serial)] });
  }

  async #signInAs(prove: () => Promise<SignInAnswer>): Promise<void> {
    const answer = await prove().catch(failedSignIn);
    this.#active_s = this.#parts.clock.now_s();
    if (this.#state.page === "leaving") return;
    const { station } = this.#parts;
    if (!answer.ok) {
      const { sentence, lockedUntil_ms } = answer;
      station.signInRefused(sentence);
      this.#tell({ type: "sign_in_refused", sentence, lockedUntil_ms });
      return;
    }
    const { who, facts } = this.#state;
    const isHandover = who.name !== null && who.name !== answer.who.name && isIdle(this.#looked());
    if (isHandover) void this.#sumUp();
    if (who.name === answer.who.name) this.#tell({ type: "signed_in", who });
    else station.signIn(answer.who);
    const now = this.#state;
    // Whoever takes over sees what the shift has come to so far, and goes on by scanning or by Enter.
    const overlay =
      isHandover && now.unit === null && now.who.name === answer.who.name ? "summary" : now.overlay;
    this.#show({ ...now, signIn: firstQuestion(facts), overlay });
  }

  #signOut(): void {
    void this.#sumUp();
    this.#parts.station.signOut();
  }

  async #sumUp(): Promise<void> {
    this.#show({ ...this.#state, summaryLines: null });
    let lines: readonly string[];
    try {
      lines = shiftSummaryLines(await this.#parts.station.shiftSummary(), SUMMARY_WIDTH);
    } catch (error) {
      lines = noSummary(error);
    }
    this.#tell({ type: "summed_up", lines });
  }

  async #sayWhyNobodyCanSignIn(): Promise<void> {
    const sentence = await this.#parts.signIn?.problem().catch(messageOf);
    if (sentence) this.#tell({ type: "sign_in_refused", sentence, lockedUntil_ms: null });
  }

  #listen(): void {
    const { station, tally } = this.#parts;
    station.listen({
      signedIn: (who) => this.#tell({ type: "signed_in", who }),
      signedOut: () => this.#tell({ type: "signed_out" }),
      armed: (attempt) => {
        this.#gaveParts = null;
        this.#parts.line?.took(attempt.serial);
        this.#tell({ type: "armed", attempt });
      },
      started: (attempt) => {
        this.#observer.started(attempt);
        this.#tell({ type: "started", attempt });
        // Its own turn: the machine is still entering the state that hears an abort.
        if (this.#state.page === "leaving") queueMicrotask(() => station.abortForStop());
      },
      refused: (serial, reasons) => {
        tally.refused++;
        const lost = serial === this.#gaveParts ? [PARTS_DROPPED] : [];
        if (serial === this.#gaveParts) this.#gaveParts = null;
        this.#tell({ type: "refused", serial, reasons: [...reasons, ...lost] });
      },
      finished: (finished) => {
        if (finished.attempt.study || !finished.attempt.reference) tally.add(finished);
        this.#observer.finished(finished.attempt, finished.traveller);
        this.#tell({ type: "finished", finished });
      },
      held: ({ units, reason }) =>
        this.#tell({ type: "held", held: { units: units.length, sentence: reason.sentence } }),
      warned: (sentence) => this.#tell({ type: "warned", sentence }),
      limitsChanged: (now) => this.#limitsChanged(now),
      faulted: (reasons) => {
        tally.faults++;
        this.#tell({ type: "faulted", reasons });
      },
      recovered: () => this.#tell({ type: "recovered" }),
    });
  }

  #tell(news: News): void {
    if (!BY_NOBODY.has(news.type)) this.#active_s = this.#parts.clock.now_s();
    this.#show(afterNews(this.#state, news));
    // The machine's state is the new one only when it has finished telling.
    queueMicrotask(() => this.#show(this.#looked()));
  }

  #looked(): ScreenState {
    return afterLook(this.#state, this.#observer.look(this.#state));
  }

  #lookLater(): void {
    this.#timer = this.#frames.setTimeout(() => {
      this.#show(this.#looked());
      // Whoever leaves need not wait for instruments that may not answer any more.
      const isFree = !isUnderWay(this.#state) || this.#state.machine === "recovering";
      if (this.#state.page === "leaving" && isFree) this.#left();
      this.#signOutIdle();
      this.#lookLater();
    }, LOOK_EVERY_ms);
  }

  /** Nobody is there any more: the next person must not test in this one's name, nor find a PIN half typed. */
  #signOutIdle(): void {
    const { file, clock } = this.#parts;
    if (file.signIn.kind !== "people" || clock.now_s() - this.#active_s <= file.signIn.idle_s) return;
    const { page, who, facts, machine } = this.#state;
    this.#active_s = clock.now_s();
    if (page !== "work" && page !== "sign_in") return;
    // Of a stopped station too: Tab must not acknowledge in the name of somebody who has gone.
    const isThere = who.name !== null && (isIdle({ machine }) || machine === "faulted");
    if (page === "work" && !isThere) return;
    this.#line = NO_LINE;
    this.#show({ ...this.#state, signIn: firstQuestion(facts) });
    if (!isThere) return;
    this.#signOut();
    const minutes = Number((file.signIn.idle_s / 60).toFixed(1));
    this.#show({
      ...this.#state,
      remark: `${who.name} was signed out: nothing was done for ${minutes} min.`,
    });
  }

  #show(state: ScreenState): void {
    this.#line = lineLeft(this.#state, state, this.#line);
    this.#state = withLine(state, this.#line, this.#reader);
    for (const changed of this.#watchers) changed();
  }
}

/** What happens whether or not anybody is there. */
const BY_NOBODY: ReadonlySet<News["type"]> = new Set(["summed_up", "held", "warned", "faulted"]);

/** A name that is believed. */
function stated(name: string): SignedIn {
  return { name, role: null, how: "stated" };
}

function draftsOf(models: readonly ModelInForce[], allowDrafts: boolean): string[] {
  const drafts = models.filter(({ notApproved }) => allowDrafts && notApproved !== null);
  return drafts.map(({ limits }) => limits.model);
}
