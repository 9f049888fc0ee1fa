using System.Text;
using System.Text.Json;

namespace MeshTrace.Reports.Tables;

/// <summary>
/// Takes the JSON lines of one kind of record as they are written, in pieces of any length, and hands their members to a table as cells. What the
/// records say and what they leave out (keys above all) is decided in one place, the writers of the records.
/// </summary>
internal sealed class RecordRows : Stream
{
    /// <summary>
    /// Longest text of a cell, in octets. A flood of a hostile capture may have millions of copies; their list would not fit into memory, nor into a
    /// cell that any reader takes.
    /// </summary>
    public const int LongestCell = 4 * 1024 * 1024;

    private readonly ITable _table;
    private readonly byte[][] _names;
    private readonly MemoryStream _cell = new();
    private byte[] _pending = new byte[1 << 17];
    private byte[] _unescaped = new byte[1 << 10];
    private int _count, _column = -1;
    private bool _inTree, _skips;
    private JsonReaderState _state = new(new JsonReaderOptions { AllowMultipleValues = true, MaxDepth = 256 });

    public RecordRows(IReadOnlyList<Column> columns, ITable table)
    {
        _names = [.. columns.Select(column => Encoding.UTF8.GetBytes(column.Name))];
        _table = table;
    }

    /// <summary>Cells that were left empty because their text is longer than <see cref="LongestCell"/>.</summary>
    public long CellsTooLong { get; private set; }

    public override void Write(ReadOnlySpan<byte> buffer)
    {
        if (_pending.Length - _count < buffer.Length)
            Array.Resize(ref _pending, Math.Max(_pending.Length * 2, _count + buffer.Length));
        buffer.CopyTo(_pending.AsSpan(_count));
        _count += buffer.Length;
        Take();
    }

    private void Take()
    {
        var reader = new Utf8JsonReader(_pending.AsSpan(0, _count), isFinalBlock: false, _state);
        int treeAt = 0;
        while (reader.Read())
        {
            switch (reader.TokenType)
            {
                case JsonTokenType.StartObject or JsonTokenType.StartArray when reader.CurrentDepth == 1 && !_inTree:
                    _inTree = true;
                    _cell.SetLength(0);
                    treeAt = (int)reader.TokenStartIndex;
                    break;
                case JsonTokenType.EndObject or JsonTokenType.EndArray when reader.CurrentDepth == 1:
                    AddToCell(treeAt, (int)reader.BytesConsumed);
                    _inTree = false;
                    EndTree();
                    break;
                case JsonTokenType.EndObject when reader.CurrentDepth == 0:
                    _table.EndRow();
                    _column = -1;
                    break;
                case JsonTokenType.PropertyName when reader.CurrentDepth == 1:
                    Find(ref reader);
                    break;
                default:
                    if (reader.CurrentDepth == 1 && !_inTree)
                        Scalar(ref reader);
                    break;
            }
        }
        int consumed = (int)reader.BytesConsumed;
        if (_inTree)
            AddToCell(treeAt, consumed);
        _state = reader.CurrentState;
        _count -= consumed;
        _pending.AsSpan(consumed, _count).CopyTo(_pending);
    }

    /// <summary>Members come in the columns' order, so that the next one is nearly always the right one.</summary>
    private void Find(ref Utf8JsonReader reader)
    {
        _skips = false;
        if (_column + 1 < _names.Length && reader.ValueTextEquals(_names[_column + 1]))
        {
            _column++;
            return;
        }
        for (int i = 0; i < _names.Length; i++)
        {
            if (!reader.ValueTextEquals(_names[i]))
                continue;
            _column = i;
            return;
        }
        _skips = reader.ValueTextEquals(RecordColumns.KindMember);
        if (!_skips)
            throw new InvalidOperationException($"docs/records.schema.json does not name the member {reader.GetString()} of this record");
    }

    private void Scalar(ref Utf8JsonReader reader)
    {
        if (_skips)
            return;
        switch (reader.TokenType)
        {
            case JsonTokenType.Number:
                _table.Number(_column, reader.ValueSpan);
                break;
            case JsonTokenType.True or JsonTokenType.False:
                _table.Flag(_column, reader.TokenType == JsonTokenType.True);
                break;
            case JsonTokenType.String when reader.ValueSpan.Length > LongestCell:
                CellsTooLong++;
                break;
            case JsonTokenType.String when reader.ValueIsEscaped:
                if (_unescaped.Length < reader.ValueSpan.Length)
                    _unescaped = new byte[reader.ValueSpan.Length];
                _table.Text(_column, _unescaped.AsSpan(0, reader.CopyString(_unescaped)));
                break;
            case JsonTokenType.String:
                _table.Text(_column, reader.ValueSpan);
                break;
        }
    }

    private void AddToCell(int from, int to)
    {
        // One octet more than a cell may have is enough to know that it is too long.
        int room = (int)(LongestCell + 1 - _cell.Length);
        _cell.Write(_pending, from, Math.Min(to - from, room));
    }

    private void EndTree()
    {
        if (_cell.Length > LongestCell)
            CellsTooLong++;
        else
            _table.Text(_column, _cell.GetBuffer().AsSpan(0, (int)_cell.Length));
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
            _cell.Dispose();
        base.Dispose(disposing);
    }

    public override bool CanRead => false;
    public override bool CanSeek => false;
    public override bool CanWrite => true;
    public override long Length => throw new NotSupportedException();
    public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }

    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    public override void Flush()
    {
    }

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();
}
