"""An invented organisation with an invented price table, to try the service with."""

from service.demo.run import run_demo
from service.demo.seed import seed

__all__ = ["run_demo", "seed"]
