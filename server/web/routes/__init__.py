"""The routes, one module a screen."""

from fastapi import APIRouter

from server.web.routes import circuit, evidence, health, home, pictures, record, room

routers: tuple[APIRouter, ...] = (
    health.router,
    home.router,
    evidence.router,
    room.router,
    circuit.router,
    pictures.router,
    record.router,
)
