import { createPublicKey, verify } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import canonicalize from "canonicalize";
import { describe, expect, test } from "vitest";
import {
  ApprovalError,
  newApproverKey,
  openApproverKey,
  signApproval,
  verifyApproval,
} from "../../limits/approval.ts";
import { readLimitFile } from "../../limits/limit-file.ts";

const TEXT = readFileSync(join(import.meta.dirname, "good.yaml"), "utf8");
const bytesOf = (text: string) => new TextEncoder().encode(text);
const limits = readLimitFile("tub-12.yaml", TEXT);

const imani = newApproverKey("river stone");
const marsh = newApproverKey("second key");
const key = openApproverKey(imani.privatePem, "river stone");
const trusted = [
  { name: "B. Imani", publicKey: imani.publicKey },
  { name: "A. Marsh", publicKey: marsh.publicKey },
];
const approval = signApproval({
  limits,
  approver: "B. Imani",
  approvedAt: "2026-01-04T09:30:00.000Z",
  privateKey: key,
});
const edited = (change: Record<string, unknown>) => JSON.stringify({ ...JSON.parse(approval), ...change });

test("an approved file is approved, by whom and when", () => {
  expect(verifyApproval(bytesOf(TEXT), limits, approval, trusted)).toEqual({
    ok: true,
    approver: "B. Imani",
    approvedAt: "2026-01-04T09:30:00.000Z",
  });
});

test("the signature is plain Ed25519 over the canonical JSON of the rest, for anybody to check", () => {
  const { signature, ...rest } = JSON.parse(approval);
  const publicKey = createPublicKey({
    key: Buffer.from(rest.public_key, "base64"),
    format: "der",
    type: "spki",
  });
  expect(
    verify(null, Buffer.from(canonicalize(rest) ?? ""), publicKey, Buffer.from(signature, "base64")),
  ).toBe(true);
});

describe("refused", () => {
  const refused = (text: string | undefined, bytes = bytesOf(TEXT), its = limits, keys = trusted) => {
    const state = verifyApproval(bytes, its, text, keys);
    return state.ok ? "APPROVED" : state.code;
  };

  test.each([
    ["no approval", undefined],
    ["an empty file", ""],
    ["another file", "{}"],
    ["an approval with a key too many", edited({ comment: "fine" })],
    ["an approval without signature", edited({ signature: undefined })],
  ])("%s is no approval", (_what, text) => expect(refused(text)).toBe("NOT_APPROVED"));

  test("one changed byte of the limit file", () => {
    const text = TEXT.replace("60 mL/min", "90 mL/min");
    expect(refused(approval, bytesOf(text), readLimitFile("tub-12.yaml", text))).toBe(
      "ALTERED_AFTER_APPROVAL",
    );
  });

  test("the approval of another revision, which is named", () => {
    const text = TEXT.replace("revision: 1", "revision: 2");
    const state = verifyApproval(bytesOf(text), readLimitFile("tub-12.yaml", text), approval, trusted);
    expect(state).toMatchObject({
      code: "ALTERED_AFTER_APPROVAL",
      sentence: expect.stringMatching(/^The approval beside TUB-12 revision 2 is one of TUB-12 revision 1\./),
    });
  });

  test("an approval cut off anywhere", () => {
    for (let length = 0; length < approval.trimEnd().length; length += 7) {
      expect(refused(approval.slice(0, length))).toBe("NOT_APPROVED");
    }
  });

  test("an approval given after its key went out of use, and not one given before", () => {
    const until = (day: string) => [{ name: "B. Imani", publicKey: imani.publicKey, until: day }];
    expect(refused(approval, bytesOf(TEXT), limits, until("2026-01-03"))).toBe("KEY_OUT_OF_USE");
    expect(refused(approval, bytesOf(TEXT), limits, until("2026-01-04"))).toBe("APPROVED");
  });

  test("even a changed comment", () => {
    const text = `${TEXT}# looser next time\n`;
    expect(refused(approval, bytesOf(text), readLimitFile("tub-12.yaml", text))).toBe(
      "ALTERED_AFTER_APPROVAL",
    );
  });

  test("the approval of another revision", () => {
    expect(refused(approval, bytesOf(TEXT), { ...limits, revision: 2 })).toBe("ALTERED_AFTER_APPROVAL");
  });

  test.each([
    ["sha256", "0".repeat(64)],
    ["revision", 7],
    ["approved_at", "2025-01-01T00:00:00Z"],
    ["author", "somebody"],
    ["signature", Buffer.alloc(64).toString("base64")],
    ["signature", ""],
  ])("an approval whose %s was edited", (name, value) => {
    expect(refused(edited({ [name]: value }))).toBe("BAD_SIGNATURE");
  });

  test("an approver whose key is not trusted", () => {
    expect(refused(approval, undefined, undefined, [])).toBe("UNKNOWN_APPROVER");
    const stranger = openApproverKey(newApproverKey("x").privatePem, "x");
    const forged = signApproval({
      limits,
      approver: "B. Imani",
      approvedAt: "2026-01-04T09:30:00Z",
      privateKey: stranger,
    });
    expect(refused(forged)).toBe("UNKNOWN_APPROVER");
  });

  test("a trusted key under another trusted name", () => {
    const text = signApproval({
      limits,
      approver: "C. Okoro",
      approvedAt: "2026-01-04T09:30:00Z",
      privateKey: key,
    });
    expect(refused(text)).toBe("UNKNOWN_APPROVER");
  });

  test("the author's own approval, however the name is written", () => {
    const own = openApproverKey(marsh.privatePem, "second key");
    const sign = () =>
      signApproval({ limits, approver: " a.  MARSH", approvedAt: "2026-01-04T09:30:00Z", privateKey: own });
    expect(sign).toThrow(ApprovalError);
    const asIf = { ...limits, author: "somebody else" };
    const smuggled = signApproval({
      limits: asIf,
      approver: "A. Marsh",
      approvedAt: "2026-01-04T09:30:00Z",
      privateKey: own,
    });
    expect(refused(smuggled)).toBe("AUTHOR_IS_APPROVER");
  });

  test("each refusal is a sentence that names the model and says what to do", () => {
    const state = verifyApproval(bytesOf(TEXT), limits, undefined, trusted);
    expect(state.ok || state.sentence).toBe(
      "TUB-12 revision 1 is a draft: nobody has approved it. Have it approved before production.",
    );
  });
});

describe("keys", () => {
  test("open with their passphrase only", () => {
    expect(imani.privatePem).toContain("BEGIN ENCRYPTED PRIVATE KEY");
    expect(() => openApproverKey(imani.privatePem, "wrong")).toThrow(/wrong passphrase/);
    expect(() => openApproverKey("not a key", "x")).toThrow(ApprovalError);
  });
});
