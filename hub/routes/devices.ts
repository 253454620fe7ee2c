// Routes over the second listener and the devices that it let in.
import { ROUTES, SpokenError, type DevicesState } from '@guardband/model'
import type { Lab } from '@guardband/lab'
import type { SecondListener } from '../second/second-listener.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveDeviceRoutes(server: RouteServer, { second }: { readonly second: SecondListener }): void {
  const state = (lab: Lab): DevicesState => ({ listener: second.state(), pairing: second.pairing.state(), devices: [...lab.devices.list()] })
  server.json(ROUTES.devices, ({ lab }) => state(lab))
  server.json(ROUTES.listen, async ({ lab, input }) => {
    await (input.turn === 'on' ? second.turnOn(input) : second.turnOff())
    return state(lab)
  })
  server.json(ROUTES.newPairing, () => {
    if (second.state().state === 'off') throw new SpokenError({ code: 'listener-off', message: 'the second listener is off, so no device could use a code.', mend: 'Turn it on first.' })
    return second.pairing.open()
  })
  server.json(ROUTES.revokeDevice, ({ lab, c }) => {
    const device = lab.devices.revoke(idParam(c))
    second.drop(device.id)
    return state(lab)
  })
}
