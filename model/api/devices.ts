// Routes of the page over the second listener: turn it on and off, pair a device, list and revoke those that were let in.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { momentSchema, nameSchema } from '../records/base.ts'
import { route } from './route.ts'

export const deviceSchema = z.strictObject({ id: idSchema, name: nameSchema, made: momentSchema, seen: momentSchema.nullable(), revoked: momentSchema.nullable() })
export type Device = z.infer<typeof deviceSchema>

const portSchema = z.int().min(1).max(65_535)

export const listenerSchema = z.discriminatedUnion('state', [
  z.strictObject({
    state: z.literal('off'),
    /** Of this machine, the one to offer first. */
    addresses: z.array(z.string()),
    port: portSchema,
  }),
  z.strictObject({
    state: z.literal('on'),
    /** What a phone opens. */
    url: z.url(),
    /** SHA-256 of the certificate, as 64 hex digits. */
    fingerprint: z.string().regex(/^[0-9a-f]{64}$/),
    /** The certificate holds until then. */
    until: momentSchema,
  }),
])
export type ListenerState = z.infer<typeof listenerSchema>

/** What became of the code shown last. */
export const pairingSchema = z.discriminatedUnion('state', [
  z.strictObject({ state: z.literal('none') }),
  z.strictObject({ state: z.literal('open'), until: momentSchema }),
  z.strictObject({ state: z.literal('used'), device: nameSchema }),
  z.strictObject({ state: z.literal('too late') }),
  z.strictObject({ state: z.literal('too many wrong tries') }),
])
export type PairingState = z.infer<typeof pairingSchema>

const nothing = z.strictObject({})
const devicesStateSchema = z.strictObject({ listener: listenerSchema, pairing: pairingSchema, devices: z.array(deviceSchema) })
export type DevicesState = z.infer<typeof devicesStateSchema>

export const DEVICE_ROUTES = {
  devices: route('GET', '/api/devices', nothing, devicesStateSchema),
  listen: route('POST', '/api/devices/listener', z.discriminatedUnion('turn', [z.strictObject({ turn: z.literal('off') }), z.strictObject({ turn: z.literal('on'), address: z.string().max(60), port: portSchema })]), devicesStateSchema),
  /** A code for one device, for five minutes. The one before is void. */
  newPairing: route('POST', '/api/devices/pairing', nothing, z.strictObject({ code: z.string(), until: momentSchema })),
  revokeDevice: route('POST', '/api/devices/:id/revoke', nothing, devicesStateSchema),
} as const
