package android.bluetooth;

public final class BluetoothManager {
    public BluetoothAdapter getAdapter() {
        return null;
    }
}
