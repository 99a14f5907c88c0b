package android.database;

public class MatrixCursor implements Cursor {
    public MatrixCursor(String[] columnNames, int initialCapacity) {}

    public void addRow(Object[] columnValues) {}
}
