#include "wires.h"

#include <simavr/avr_twi.h>

/* Registers and pins. [ATmega328P data sheet, register summary and pin configurations] */
enum { PINC = 0x26, DDRC = 0x27, TWSR = 0xB9, TWCR = 0xBC };
enum { TWINT = 0x80, TWEN = 0x04, DATA = 1 << 4, CLOCK = 1 << 5 };

/* What the emulator does by itself when a register is written. */
static struct {
    avr_io_write_t does;
    void *param;
} direction, control;

/* A wire is high while nobody pulls it down. */
static uint8_t pins_read(avr_t *avr, avr_io_addr_t at, void *param)
{
    const struct wires *wires = param;
    uint8_t low = avr->data[DDRC] & ~avr->data[DDRC + 1];
    low |= wires->clock_held ? CLOCK : 0;
    low |= wires->data_held ? DATA : 0;
    avr->data[at] = (DATA | CLOCK) & ~low;
    return avr->data[at];
}

/* The controller clocks by hand. */
static void direction_written(avr_t *avr, avr_io_addr_t at, uint8_t value, void *param)
{
    struct wires *wires = param;
    bool falls = value & ~avr->data[at] & CLOCK;
    if (falls && wires->data_held && wires->clocks_left > 0)
        wires->data_held = --wires->clocks_left > 0;
    direction.does(avr, at, value, direction.param);
}

/* The emulated bus controller knows of no held wire. While one is held, what it is told stays without effect, and its
 * flag stays down, as that of the true one does. Some versions leave the flag up while a byte is on its way. */
static void control_written(avr_t *avr, avr_io_addr_t at, uint8_t value, void *param)
{
    const struct wires *wires = param;
    if ((wires->clock_held || wires->data_held) && value & TWEN)
        avr->data[at] = value;
    else
        control.does(avr, at, value, control.param);
    if (value & TWINT)
        avr->data[at] &= ~TWINT;
}

/* Some versions of the emulator say of an address that was sent what is true of a byte. [status codes in master
 * transmitter mode, ATmega328P data sheet: 0x18 and 0x20 for an address, 0x28 and 0x30 for a byte] */
static bool address_sent;

static void message_sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    avr_twi_msg_irq_t message = {.u.v = value};
    address_sent = message.u.twi.msg & TWI_COND_START && !(message.u.twi.addr & 1);
}

static void status_set(struct avr_irq_t *irq, uint32_t status, void *param)
{
    (void)irq;
    avr_t *avr = param;
    if (address_sent && (status == 0x28 || status == 0x30))
        avr->data[TWSR] = (avr->data[TWSR] & 3) | (status - 0x10);
}

void wires_attach(struct wires *wires, avr_t *avr)
{
    avr_irq_t *bus = avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), 0);
    avr_irq_register_notify(bus + TWI_IRQ_OUTPUT, message_sent, avr);
    avr_irq_register_notify(bus + TWI_IRQ_STATUS, status_set, avr);
    control.does = avr->io[AVR_DATA_TO_IO(TWCR)].w.c;
    control.param = avr->io[AVR_DATA_TO_IO(TWCR)].w.param;
    avr->io[AVR_DATA_TO_IO(TWCR)].w.c = control_written;
    avr->io[AVR_DATA_TO_IO(TWCR)].w.param = wires;
    direction.does = avr->io[AVR_DATA_TO_IO(DDRC)].w.c;
    direction.param = avr->io[AVR_DATA_TO_IO(DDRC)].w.param;
    avr->io[AVR_DATA_TO_IO(DDRC)].w.c = direction_written;
    avr->io[AVR_DATA_TO_IO(DDRC)].w.param = wires;
    avr->io[AVR_DATA_TO_IO(PINC)].r.c = pins_read;
    avr->io[AVR_DATA_TO_IO(PINC)].r.param = wires;
}

void wires_hold_clock(struct wires *wires)
{
    wires->clock_held = true;
}

void wires_hold_data(struct wires *wires, int clocks)
{
    wires->data_held = true;
    wires->clocks_left = clocks;
}

void wires_let_go(struct wires *wires)
{
    wires->clock_held = wires->data_held = false;
}
