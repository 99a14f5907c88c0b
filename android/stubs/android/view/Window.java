package android.view;

public abstract class Window {
    public void addFlags(int flags) {}

    public void clearFlags(int flags) {}
}
