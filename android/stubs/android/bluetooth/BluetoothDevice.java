package android.bluetooth;

import java.io.IOException;
import java.util.UUID;

public final class BluetoothDevice {
    public static final int BOND_BONDED = 12;
    public static final int DEVICE_TYPE_LE = 2;

    public String getAddress() {
        return null;
    }

    public String getName() {
        return null;
    }

    public int getType() {
        return 0;
    }

    public int getBondState() {
        return 0;
    }

    public BluetoothSocket createRfcommSocketToServiceRecord(UUID uuid) throws IOException {
        return null;
    }

    public BluetoothSocket createInsecureRfcommSocketToServiceRecord(UUID uuid) throws IOException {
        return null;
    }
}
