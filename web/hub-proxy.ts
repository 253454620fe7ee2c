// While the page is worked on, Vite serves it and hands the hub's addresses on. The hub answers only to its own Host and Origin, so both are rewritten.
import type { ProxyOptions } from 'vite'

/** For Vite's `server.proxy`: the API, published reports, and the door, so that the address with the token opens on Vite's port too. */
export function hubProxy(hub: string): Record<string, ProxyOptions> {
  const { origin } = new URL(hub)
  const options: ProxyOptions = {
    target: hub,
    changeOrigin: true,
    configure: (proxy) => {
      proxy.on('proxyReq', (request) => {
        if (request.hasHeader('origin')) request.setHeader('origin', origin)
      })
    },
  }
  return { '/api': options, '/reports/': options, '/open': options }
}
