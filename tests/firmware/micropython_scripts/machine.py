"""A stand-in for the board's own module of this name: pins that a test can move."""

pins = {}


class Pin:
    """A pin with a pull-up: high until the test pulls it low."""

    IN, PULL_UP, IRQ_FALLING, IRQ_RISING = 0, 1, 2, 4

    def __init__(self, number, mode, pull):
        if (mode, pull) != (Pin.IN, Pin.PULL_UP):
            raise ValueError("a sensor pin is an input with pull-up")
        self._level = 1
        pins[number] = self

    def irq(self, handler, trigger, hard=False):
        """Remember the handler; only both edges will do."""
        if trigger != Pin.IRQ_FALLING | Pin.IRQ_RISING:
            raise ValueError("both edges, please")
        self._handler = handler
        self.hard = hard

    def value(self):
        """The level now."""
        return self._level

    def move(self, level):
        """Set the level from outside, as a sensor would."""
        self._level = level
        self._handler(self)


def disable_irq():
    """Nothing interrupts here."""
    return 0


def enable_irq(state):
    """Nothing interrupts here."""


def idle():
    """Nothing to wait for."""
