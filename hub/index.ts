// The hub: HTTP over a lab, for the page.
export { askForUrl, BEACON_FILE } from './beacon.ts'
export { lanAddresses } from '@guardband/link/addresses'
export { SECOND_PORT } from './second/second-listener.ts'
export { startHub, type Hub, type HubOptions, type HubSources } from './hub.ts'
export type { OpeningInput } from './routes/moving.ts'
