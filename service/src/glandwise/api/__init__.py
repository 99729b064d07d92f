"""HTTP: routers, problem documents, limits, renderings."""
