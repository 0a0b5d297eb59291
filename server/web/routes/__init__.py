"""The routes, one module a screen."""

from fastapi import APIRouter

from server.web.routes import (
    circuit,
    evidence,
    health,
    home,
    own,
    pictures,
    record,
    room,
    told,
)

routers: tuple[APIRouter, ...] = (
    health.router,
    home.router,
    evidence.router,
    room.router,
    circuit.router,
    pictures.router,
    record.router,
    own.router,
    told.router,
)
