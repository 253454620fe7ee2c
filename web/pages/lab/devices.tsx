// Devices: the second listener turned on and off, a phone or rig let in by a code, and those that were let in.
import { useState, type ReactNode } from 'react'
import { useQueryClient, useQuery } from '@tanstack/react-query'
import type { Device, DevicesState, PairingState } from '@guardband/model/api/devices'
import { counted } from '@guardband/model/figures'
import { call } from '../../hub/client.ts'
import { useAct } from '../../hub/queries.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { When } from '../../pieces/when.tsx'
import { MarginNote } from '../../shell/page.tsx'
import { Failed, Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'
import { AddressCode } from './address-code.tsx'
import '../../styles/devices.css'

export function LabDevicesPage(): ReactNode {
  const devices = useQuery({
    queryKey: ['devices'],
    queryFn: ({ signal }) => call('devices', { signal }),
    // A code that waits is used on the other device, of which nothing here would hear.
    refetchInterval: (query) => (query.state.data?.pairing.state === 'open' ? LOOK_MS : false),
  })
  const inForce = devices.data?.devices.filter(({ revoked }) => revoked === null).length ?? 0
  return (
    <LabFrame
      name="Devices"
      headline={devices.data === undefined ? 'Devices' : devices.data.listener.state === 'off' ? 'No phone or rig can reach this hub.' : `The hub listens for phones and rigs; ${inForce === 0 ? 'none is let in yet' : `${counted(inForce, 'device is', 'devices are')} let in`}.`}
      margin={
        <>
          <MarginNote title="What a device can do">
            <p>A phone reads the open sheets, enters their starts and runs, takes its own entries back, adds pictures, and answers what rigs ask. A rig hands in its journals, says what it is at, and fetches what people answer it; nobody can make it run anything from here. Nothing else of the lab is reachable there.</p>
          </MarginNote>
          <MarginNote title="Off by itself">
            <p>The listener is off whenever the hub starts, unless it is started with <code>--phones</code>. Devices stay let in until they are revoked.</p>
          </MarginNote>
        </>
      }
    >
      <Loaded query={devices} what="the devices">{(state) => <Devices state={state} />}</Loaded>
    </LabFrame>
  )
}

const LOOK_MS = 2000

function Devices({ state }: { readonly state: DevicesState }): ReactNode {
  return (
    <>
      {state.listener.state === 'off' ? <TurnOn listener={state.listener} /> : <Listening listener={state.listener} pairing={state.pairing} />}
      <LetIn devices={state.devices} />
    </>
  )
}

function TurnOn({ listener }: { readonly listener: Extract<DevicesState['listener'], { state: 'off' }> }): ReactNode {
  const listen = useAct('listen')
  const [address, setAddress] = useState(listener.addresses[0] ?? '')
  const [port, setPort] = useState(String(listener.port))
  const number = /^\d{1,5}$/.test(port.trim()) ? Number(port) : 0
  const problem = number >= 1 && number <= 65_535 ? undefined : `The port must be a whole number from 1 to 65535; got "${port}".`
  if (listener.addresses.length === 0) {
    return (
      <section>
        <h2>Turn it on</h2>
        <p>This machine is on no network, so no phone could reach it. Connect it, then load this page again.</p>
      </section>
    )
  }
  return (
    <section>
      <h2>Turn it on</h2>
      <p>A second listener of this hub, over TLS, for phones beside the bench and for rigs. Everybody on the network can then reach its door; only devices with a code from this page come in.</p>
      <form
        className="form listen"
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          if (problem === undefined) listen.mutate({ input: { turn: 'on', address, port: number } })
        }}
      >
        <ChoiceField label="Address on the network" value={address} choices={listener.addresses.map((value) => ({ value, text: value }))} onValue={setAddress} />
        <TextField label="Port" figure value={port} problem={problem} onValue={setPort} />
        {listen.error === null ? null : <Failed error={listen.error} />}
        <div className="buttons">
          <button type="submit" className="button button-main" disabled={listen.isPending}>
            Listen for phones and rigs
          </button>
        </div>
      </form>
    </section>
  )
}

function Listening({ listener, pairing }: { readonly listener: Extract<DevicesState['listener'], { state: 'on' }>; readonly pairing: PairingState }): ReactNode {
  const queries = useQueryClient()
  const listen = useAct('listen')
  const newPairing = useAct('newPairing')
  const code = pairing.state === 'open' ? newPairing.data : undefined
  return (
    <section>
      <h2>Let a device in</h2>
      <ol className="pairing">
        <li>
          <p>On the phone, open this address. Its browser warns, since nobody vouches for the certificate. Look at it (step 2) before you go on.</p>
          <p className="address figure breaks">{listener.url}</p>
          <AddressCode text={listener.url} />
        </li>
        <li>
          <p>In the phone's browser look at the certificate: its SHA-256 fingerprint must be this one, all 64 digits; then go on. The same certificate is kept for later, so that a changed one shows.</p>
          <p className="fingerprint figure">{groupsOf(listener.fingerprint).map((group, index) => (
            // The groups of one fingerprint never move.
            // oxlint-disable-next-line react/no-array-index-key
            <span key={index}>{group}</span>
          ))}</p>
          <small>
            It holds until <When at={listener.until} />.
          </small>
        </li>
        <li>
          <p>Type this code there. It lets in one device, within five minutes.</p>
          {code === undefined ? null : (
            <p className="code figure" aria-live="polite">
              {code.code}
            </p>
          )}
          <p role="status">{PAIRING[pairing.state](pairing)}</p>
          {newPairing.error === null ? null : <Failed error={newPairing.error} />}
          <div className="buttons">
            <button type="button" className={code === undefined ? 'button button-main' : 'button'} disabled={newPairing.isPending} onClick={() => newPairing.mutate({}, { onSuccess: () => void queries.invalidateQueries({ queryKey: ['devices'] }) })}>
              {code === undefined ? 'Show a code' : 'Another code'}
            </button>
          </div>
        </li>
      </ol>
      <p>A rig needs no browser. On the machine under test, with the code from above:</p>
      <pre className="wraps">
        <code>
          {`npx guardband rig pair ${listener.url} `}
          <span className="unbroken">{`--code ${code?.code ?? 'XXXX-XXXX'}`}</span> <span className="unbroken">--fingerprint</span> {`"${listener.fingerprint.toUpperCase()}"`}
        </code>
      </pre>
      {listen.error === null ? null : <Failed error={listen.error} />}
      <button type="button" className="button-quiet" disabled={listen.isPending} onClick={() => listen.mutate({ input: { turn: 'off' } })}>
        Stop listening for phones and rigs
      </button>
    </section>
  )
}

/** What became of the code; each state has its sentence. */
const PAIRING: { readonly [State in PairingState['state']]: (pairing: PairingState) => string } = {
  none: () => '',
  open: (pairing) => (pairing.state === 'open' ? `Good until ${new Date(pairing.until).toLocaleTimeString('en-GB')}.` : ''),
  used: (pairing) => (pairing.state === 'used' ? `Used: ${pairing.device} was let in.` : ''),
  'too late': () => 'The five minutes are over, and nobody was let in. Show another code.',
  'too many wrong tries': () => 'Five wrong codes were typed, so this one is void. If it was not you, look at who is on the network.',
}

function LetIn({ devices }: { readonly devices: readonly Device[] }): ReactNode {
  const revoke = useAct('revokeDevice')
  return (
    <section>
      <h2>Devices that were let in</h2>
      {revoke.error === null ? null : <Failed error={revoke.error} />}
      {devices.length === 0 ? (
        <p className="soft">None yet.</p>
      ) : (
        <Ledger
          label="Devices that were let in"
          rows={devices}
          keyOf={({ id }) => id}
          quiet={({ revoked }) => revoked !== null}
          columns={[
            { header: 'device', render: ({ name }) => name },
            { header: 'let in', render: ({ made }) => <When at={made} /> },
            { header: 'last seen', render: ({ seen }) => (seen === null ? <span className="soft">not since</span> : <When at={seen} />) },
            {
              header: 'leave',
              render: ({ id, name, revoked }) =>
                revoked === null ? (
                  <button type="button" className="button-quiet" disabled={revoke.isPending} aria-label={`Revoke ${name}`} onClick={() => revoke.mutate({ params: { id } })}>
                    Revoke
                  </button>
                ) : (
                  <>
                    revoked <When at={revoked} />
                  </>
                ),
            },
          ]}
        />
      )}
    </section>
  )
}

/** In fours, as they are read out: capitals, like browsers show them. */
function groupsOf(fingerprint: string): readonly string[] {
  return fingerprint.toUpperCase().match(/.{4}/g) ?? []
}
