/** The laboratory's own certificate for the signature over a whole PDF: issued by itself, in force as long as documents are kept. */
import { randomBytes, webcrypto } from "node:crypto";
import { BitString, Integer, Sequence, Utf8String } from "asn1js";
import { AttributeTypeAndValue, Certificate, CryptoEngine, Extension, setEngine, Time, TimeType } from "pkijs";

const YEARS = 30;
const OID = { commonName: "2.5.4.3", keyUsage: "2.5.29.15", basicConstraints: "2.5.29.19" } as const;
/** digitalSignature and nonRepudiation, the first two bits. @source RFC 5280, 4.2.1.3 */
const SIGNS_DOCUMENTS = 0b1100_0000;

export interface MadeCertificate {
  /** PKCS #8, DER. */
  readonly privateKey: Uint8Array;
  /** DER. */
  readonly certificate: Uint8Array;
}

/** From 2050 on a certificate writes its years in full. @source RFC 5280, 4.1.2.5 */
const timeOf = (value: Date): Time =>
  new Time({ type: value.getUTCFullYear() < 2050 ? TimeType.UTCTime : TimeType.GeneralizedTime, value });

/** A new RSA key of 3072 bits and the certificate that names it. */
export async function makeCertificate(name: string, from: Date): Promise<MadeCertificate> {
  setEngine("node", new CryptoEngine({ name: "node", crypto: webcrypto as never }));
  const pair = await webcrypto.subtle.generateKey(
    { name: "RSASSA-PKCS1-v1_5", modulusLength: 3072, publicExponent: Uint8Array.of(1, 0, 1), hash: "SHA-256" },
    true,
    ["sign", "verify"],
  );
  const certificate = new Certificate();
  certificate.version = 2;
  const serial = randomBytes(16);
  // A positive number without a leading zero.
  serial[0] = ((serial[0] ?? 0) & 0x7f) | 0x40;
  certificate.serialNumber = new Integer({ valueHex: new Uint8Array(serial).buffer });
  const subject = (): AttributeTypeAndValue =>
    new AttributeTypeAndValue({ type: OID.commonName, value: new Utf8String({ value: name.slice(0, 64) }) });
  certificate.issuer.typesAndValues.push(subject());
  certificate.subject.typesAndValues.push(subject());
  // A certificate knows whole seconds only (RFC 5280, 4.1.2.5.2).
  const since = new Date(Math.floor(from.getTime() / 1000) * 1000);
  const until = new Date(since);
  until.setUTCFullYear(until.getUTCFullYear() + YEARS);
  certificate.notBefore = timeOf(since);
  certificate.notAfter = timeOf(until);
  const usage = new BitString({ valueHex: Uint8Array.of(SIGNS_DOCUMENTS).buffer, unusedBits: 6 });
  certificate.extensions = [
    new Extension({ extnID: OID.keyUsage, critical: true, extnValue: usage.toBER(false) }),
    new Extension({ extnID: OID.basicConstraints, critical: true, extnValue: new Sequence().toBER(false) }),
  ];
  await certificate.subjectPublicKeyInfo.importKey(pair.publicKey as never);
  await certificate.sign(pair.privateKey as never, "SHA-256");
  const pkcs8 = await webcrypto.subtle.exportKey("pkcs8", pair.privateKey);
  return { privateKey: new Uint8Array(pkcs8), certificate: new Uint8Array(certificate.toSchema(true).toBER(false)) };
}
