/**
 * The signature over a whole PDF: CMS SignedData, detached, with the three signed attributes of CAdES and PAdES baseline B.
 * Everything but certificate and signature follows from the content, so a check builds the only form it accepts and compares.
 * @source RFC 5652 (CMS), RFC 5035 (signing-certificate-v2), ETSI EN 319 142-1 (PAdES baseline B)
 */
import { equalBytes } from "./bytes.ts";
import type { Cryptography } from "./cryptography.ts";
import { type DerElement, der, derElement, derElements, integer, NULL, objectIdentifier, octets, sequence, setOf } from "./der.ts";

const OID = {
  data: "1.2.840.113549.1.7.1",
  signedData: "1.2.840.113549.1.7.2",
  contentType: "1.2.840.113549.1.9.3",
  messageDigest: "1.2.840.113549.1.9.4",
  signingCertificateV2: "1.2.840.113549.1.9.16.2.47",
  sha256: "2.16.840.1.101.3.4.2.1",
  rsa: "1.2.840.113549.1.1.1",
} as const;

const attribute = (type: string, value: Uint8Array): Uint8Array => sequence(objectIdentifier(type), der(0x31, value));

/** The signed attributes as a SET, which is what the signature signs; sorted by their encodings, or other programs refuse it. */
export function signedAttributes(contentDigest: Uint8Array, certificateDigest: Uint8Array): Uint8Array {
  return setOf(0x31, [
    attribute(OID.contentType, objectIdentifier(OID.data)),
    attribute(OID.messageDigest, octets(contentDigest)),
    // SHA-256 is the default of this attribute, and DER leaves defaults out.
    attribute(OID.signingCertificateV2, sequence(sequence(sequence(octets(certificateDigest))))),
  ]);
}

/** @param attributes as `signedAttributes` gives them @param signature RSA PKCS #1 v1.5 with SHA-256 over them */
export function writeCms(attributes: Uint8Array, certificate: Uint8Array, signature: Uint8Array): Uint8Array {
  const { serial, issuer } = certificateParts(certificate);
  const sha256 = sequence(objectIdentifier(OID.sha256));
  const implicit = attributes.slice();
  implicit[0] = 0xa0;
  const signer = sequence(
    integer(1),
    sequence(issuer, serial),
    sha256,
    implicit,
    sequence(objectIdentifier(OID.rsa), NULL),
    octets(signature),
  );
  const content = sequence(integer(1), der(0x31, sha256), sequence(objectIdentifier(OID.data)), der(0xa0, certificate), der(0x31, signer));
  return sequence(objectIdentifier(OID.signedData), der(0xa0, content));
}

function certificateParts(certificate: Uint8Array): { serial: Uint8Array; issuer: Uint8Array; publicKey: Uint8Array } {
  const body = derElements(required(derElements(derElement(certificate, 0).element.content)[0]).content);
  // [0] version, serial, algorithm, issuer, validity, subject, key (RFC 5280, 4.1)
  const from = body[0]?.tag === 0xa0 ? 1 : 0;
  return { serial: required(body[from]).whole, issuer: required(body[from + 2]).whole, publicKey: required(body[from + 5]).whole };
}

function required(element: DerElement | undefined): DerElement {
  if (element === undefined) throw new RangeError("DER: an element is missing");
  return element;
}

export interface CmsCheck {
  readonly certificate: Uint8Array;
  /** The signature is one of this content by this certificate's key. */
  readonly valid: boolean;
}

/** @throws RangeError on what is no CMS of ours */
export async function checkCms(cms: Uint8Array, contentDigest: Uint8Array, cryptography: Cryptography): Promise<CmsCheck> {
  const signedData = required(derElements(required(derElements(derElement(cms, 0).element.content)[1]).content)[0]);
  const parts = derElements(signedData.content);
  const certificate = required(parts[3]).content;
  const signer = derElements(required(derElements(required(parts[4]).content)[0]).content);
  const signature = required(signer[5]).content;
  const attributes = signedAttributes(contentDigest, await cryptography.sha256(certificate));
  // No byte outside the signed ones may differ either.
  if (!equalBytes(writeCms(attributes, certificate, signature), cms)) return { certificate, valid: false };
  return { certificate, valid: await cryptography.verify("RSA-SHA256", certificateParts(certificate).publicKey, signature, attributes) };
}
