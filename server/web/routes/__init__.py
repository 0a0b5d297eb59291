"""The routes, one module a screen."""

from fastapi import APIRouter

from server.web.routes import health

routers: tuple[APIRouter, ...] = (health.router,)
