package dev.stilltank;

import android.bluetooth.BluetoothAdapter;
import android.bluetooth.BluetoothDevice;
import android.bluetooth.BluetoothSocket;
import java.io.IOException;
import java.util.UUID;

/**
 * One connection to the serial port of a classic Bluetooth device. Each method waits as long as it
 * takes; closing from another thread ends the wait.
 */
public final class ClassicSocket {
    /** The serial port profile (Bluetooth SIG, assigned numbers: service class 0x1101). */
    private static final UUID SERIAL_PORT = UUID.fromString("00001101-0000-1000-8000-00805F9B34FB");

    private final BluetoothAdapter radio;
    private final BluetoothSocket socket;

    private ClassicSocket(BluetoothAdapter radio, BluetoothSocket socket) {
        this.radio = radio;
        this.socket = socket;
    }

    static ClassicSocket make(BluetoothAdapter radio, String address, boolean secure)
            throws IOException {
        if (radio == null) {
            throw new IOException("no_radio");
        }
        if (!BluetoothAdapter.checkBluetoothAddress(address)) {
            throw new IOException("no_address");
        }
        try {
            if (!radio.isEnabled()) {
                throw new IOException("radio_off");
            }
            BluetoothDevice device = radio.getRemoteDevice(address);
            if (device.getBondState() != BluetoothDevice.BOND_BONDED) {
                throw new IOException("not_paired");
            }
            BluetoothSocket socket = secure
                    ? device.createRfcommSocketToServiceRecord(SERIAL_PORT)
                    : device.createInsecureRfcommSocketToServiceRecord(SERIAL_PORT);
            return new ClassicSocket(radio, socket);
        } catch (SecurityException refused) {
            throw new IOException("no_permission");
        }
    }

    /** Connects; may take many seconds. */
    public void connect() throws IOException {
        try {
            // A search that is going on makes connecting slow and unsure. Ending it takes the
            // permission to scan, which is granted together with the one to connect.
            radio.cancelDiscovery();
            socket.connect();
        } catch (SecurityException refused) {
            throw new IOException("no_permission");
        }
    }

    /** Reads at least one byte; −1 when the other side is gone. */
    public int read(byte[] into) throws IOException {
        return socket.getInputStream().read(into);
    }

    /** Writes all bytes. */
    public void write(byte[] bytes) throws IOException {
        socket.getOutputStream().write(bytes);
    }

    /** Ends the connection and every wait for it. */
    public void close() throws IOException {
        socket.close();
    }
}
