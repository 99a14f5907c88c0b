package android.bluetooth;

import java.util.Set;

public final class BluetoothAdapter {
    public static boolean checkBluetoothAddress(String address) {
        return false;
    }

    public boolean isEnabled() {
        return false;
    }

    public boolean cancelDiscovery() {
        return false;
    }

    public Set<BluetoothDevice> getBondedDevices() {
        return null;
    }

    public BluetoothDevice getRemoteDevice(String address) {
        return null;
    }
}
