import {
  createHash,
  createPrivateKey,
  createPublicKey,
  generateKeyPairSync,
  type KeyObject,
  sign,
  verify,
} from "node:crypto";
import canonicalize from "canonicalize";
import { z } from "zod";
import type { ModelLimits } from "./model.ts";

const FORMAT = "drumtight/approval/1";

export const approvalSchema = z.strictObject({
  format: z.literal(FORMAT),
  model: z.string(),
  revision: z.int(),
  sha256: z.string().regex(/^[0-9a-f]{64}$/),
  author: z.string(),
  approver: z.string().min(1),
  approved_at: z.iso.datetime(),
  public_key: z.base64(),
  signature: z.base64(),
});

/** Somebody whose approval counts; the key is Ed25519 in SPKI form (RFC 8410), DER, base64. */
export interface TrustedKey {
  readonly name: string;
  readonly publicKey: string;
  /** Last day (ISO 8601, UTC) on which it signed; left out while it is in use. A key in wrong hands is taken off the list. */
  readonly until?: string;
}

type ApprovalFault =
  | "NOT_APPROVED"
  | "ALTERED_AFTER_APPROVAL"
  | "UNKNOWN_APPROVER"
  | "KEY_OUT_OF_USE"
  | "BAD_SIGNATURE"
  | "AUTHOR_IS_APPROVER";

export type ApprovalState =
  | { readonly ok: true; readonly approver: string; readonly approvedAt: string }
  | { readonly ok: false; readonly code: ApprovalFault; readonly sentence: string };

/** What identifies a limit file for its approval. */
export type ApprovedLimits = Pick<ModelLimits, "model" | "revision" | "author">;

/** @returns where the approval of a limit file lies */
export function approvalPath(limitFilePath: string): string {
  return `${limitFilePath}.approval.json`;
}

/**
 * Whether somebody trusted, other than the author, has approved exactly these bytes.
 * @param limits what the reader made of the same bytes
 * @param approvalText text of the approval file, undefined if there is none
 */
export function verifyApproval(
  fileBytes: Uint8Array,
  limits: ApprovedLimits,
  approvalText: string | undefined,
  trustedKeys: readonly TrustedKey[],
): ApprovalState {
  const what = `${limits.model} revision ${limits.revision}`;
  if (approvalText === undefined) {
    return refusal(
      "NOT_APPROVED",
      `${what} is a draft: nobody has approved it. Have it approved before production.`,
    );
  }
  const approval = readApproval(approvalText);
  if (!approval) {
    return refusal(
      "NOT_APPROVED",
      `The approval of ${what} cannot be read. Have the limit file approved again.`,
    );
  }
  const { signature, ...signed } = approval;
  const { approver } = approval;
  const trusted = trustedKeys.find(
    (key) => key.publicKey === approval.public_key && samePerson(key.name, approver),
  );
  if (!trusted) {
    const sentence = `${what} was approved by "${approver}" with a key this station does not trust. Add the key to the station file or have it approved by somebody listed there.`;
    return refusal("UNKNOWN_APPROVER", sentence);
  }
  if (!signatureHolds(signed, signature, trusted.publicKey)) {
    return refusal(
      "BAD_SIGNATURE",
      `The approval of ${what} has been tampered with. Have it approved again.`,
    );
  }
  if (trusted.until !== undefined && approval.approved_at.slice(0, 10) > trusted.until) {
    const sentence = `${what} was approved by ${approver} on ${approval.approved_at.slice(0, 10)} with a key that was in use until ${trusted.until} only. Have it approved with a key that the station file lists without that date.`;
    return refusal("KEY_OUT_OF_USE", sentence);
  }
  if (samePerson(limits.author, approver)) {
    const sentence = `${what} was approved by its own author, ${approver}. Somebody else has to approve it.`;
    return refusal("AUTHOR_IS_APPROVER", sentence);
  }
  if (approval.model !== limits.model || approval.revision !== limits.revision) {
    const sentence = `The approval beside ${what} is one of ${approval.model} revision ${approval.revision}. Put this file's own approval beside it, or have this one approved.`;
    return refusal("ALTERED_AFTER_APPROVAL", sentence);
  }
  const unaltered = approval.sha256 === sha256(fileBytes) && approval.author === limits.author;
  if (!unaltered) {
    const sentence = `${what} was changed after ${approver} approved it on ${approval.approved_at.slice(0, 10)}. Put the approved file back or have this one approved.`;
    return refusal("ALTERED_AFTER_APPROVAL", sentence);
  }
  return { ok: true, approver, approvedAt: approval.approved_at };
}

/** Thrown when an approval must not or cannot be given. */
export class ApprovalError extends Error {
  readonly code: "AUTHOR_IS_APPROVER" | "KEY_UNUSABLE" | "REVISION_NOT_RAISED" | "CHANGED_MEANWHILE";
  constructor(code: ApprovalError["code"], message: string) {
    super(message);
    this.name = "ApprovalError";
    this.code = code;
  }
}

/**
 * Signs (Ed25519, RFC 8032) the canonical form (RFC 8785) of the approval of the bytes the limits were read from.
 * @param approvedAt ISO 8601, UTC
 * @returns the text of the approval file
 * @throws ApprovalError
 */
export function signApproval(input: {
  readonly limits: ApprovedLimits & Pick<ModelLimits, "source">;
  readonly approver: string;
  readonly approvedAt: string;
  readonly privateKey: KeyObject;
}): string {
  const { limits, approver, approvedAt, privateKey } = input;
  if (samePerson(limits.author, approver)) {
    throw new ApprovalError(
      "AUTHOR_IS_APPROVER",
      `${limits.author} wrote this revision; somebody else has to approve it.`,
    );
  }
  const signed: Omit<Approval, "signature"> = {
    format: FORMAT,
    model: limits.model,
    revision: limits.revision,
    sha256: limits.source.sha256,
    author: limits.author,
    approver,
    approved_at: approvedAt,
    public_key: publicKeyText(createPublicKey(privateKey)),
  };
  const signature = signatureOf(signed, privateKey);
  return `${JSON.stringify({ ...signed, signature }, null, 2)}\n`;
}

/**
 * A new Ed25519 key pair.
 * @param passphrase encrypts the private key (PKCS #8, AES-256)
 */
export function newApproverKey(passphrase: string): { privatePem: string; publicKey: string } {
  const { privateKey, publicKey } = generateKeyPairSync("ed25519");
  const privatePem = privateKey
    .export({ type: "pkcs8", format: "pem", cipher: "aes-256-cbc", passphrase })
    .toString();
  return { privatePem, publicKey: publicKeyText(publicKey) };
}

/** @throws ApprovalError if it is no Ed25519 key, has no passphrase, or another one */
export function openApproverKey(privatePem: string, passphrase: string): KeyObject {
  if (/^-----BEGIN (?!ENCRYPTED)[A-Z ]*PRIVATE KEY-----/m.test(privatePem)) {
    throw new ApprovalError(
      "KEY_UNUSABLE",
      "The key has no passphrase: whoever copies the file could sign with it. Make one that has, with: drumtight limits new-key",
    );
  }
  let key: KeyObject;
  try {
    key = createPrivateKey({ key: privatePem, passphrase });
  } catch {
    throw new ApprovalError(
      "KEY_UNUSABLE",
      "The key cannot be opened: wrong passphrase, or no private key in PEM form.",
    );
  }
  if (key.asymmetricKeyType !== "ed25519") {
    throw new ApprovalError(
      "KEY_UNUSABLE",
      "The key is not an Ed25519 key. Make one with: drumtight limits new-key",
    );
  }
  return key;
}

/** Whether a text is an Ed25519 public key, written exactly as `newApproverKey` writes it. */
export function isApproverKey(publicKey: string): boolean {
  const key = openPublicKey(publicKey);
  return key !== null && publicKeyText(key) === publicKey;
}

export type Approval = z.output<typeof approvalSchema>;

/** @returns undefined for what is no approval; whether its signature holds is asked apart */
export function readApproval(text: string): Approval | undefined {
  try {
    return approvalSchema.safeParse(JSON.parse(text)).data;
  } catch {
    return undefined;
  }
}

/** Whether this key has signed the canonical form (RFC 8785) of a value. */
export function signatureHolds(signed: object, signature: string, publicKey: string): boolean {
  const key = openPublicKey(publicKey);
  const bytes = Buffer.from(signature, "base64");
  // Bits that base64 leaves unused would otherwise be free to change.
  if (bytes.toString("base64") !== signature) return false;
  try {
    return key !== null && verify(null, signedBytes(signed), key, bytes);
  } catch {
    return false;
  }
}

/** @returns null for what is no Ed25519 public key */
function openPublicKey(publicKey: string): KeyObject | null {
  try {
    const key = createPublicKey({ key: Buffer.from(publicKey, "base64"), format: "der", type: "spki" });
    return key.asymmetricKeyType === "ed25519" ? key : null;
  } catch {
    return null;
  }
}

/** Ed25519 over the canonical form (RFC 8785), base64. */
export function signatureOf(signed: object, privateKey: KeyObject): string {
  return sign(null, signedBytes(signed), privateKey).toString("base64");
}

function signedBytes(signed: object): Buffer {
  return Buffer.from(canonicalize(signed) ?? "");
}

function publicKeyText(key: KeyObject): string {
  return key.export({ type: "spki", format: "der" }).toString("base64");
}

function sha256(bytes: Uint8Array): string {
  return createHash("sha256").update(bytes).digest("hex");
}

/** Names differ in case and spacing and still mean one person. */
function samePerson(a: string, b: string): boolean {
  const plain = (name: string) => name.normalize("NFKC").toLowerCase().replace(/\s+/g, " ").trim();
  return plain(a) === plain(b);
}

function refusal(code: ApprovalFault, sentence: string): ApprovalState {
  return { ok: false, code, sentence };
}
