using System.Buffers.Text;
using System.Text;
using Parquet;
using Parquet.Schema;

namespace MeshTrace.Reports.Tables;

/// <summary>The cells of one column that wait for the row group to be full.</summary>
internal abstract class ParquetColumn(DataField field)
{
    public DataField Field { get; } = field;

    public static ParquetColumn Of(Column column, int rows) => column.Type switch
    {
        ColumnType.Integer => new Integers(new DataField<long?>(column.Name), rows),
        ColumnType.Real => new Reals(new DataField<double?>(column.Name), rows),
        ColumnType.Flag => new Flags(new DataField<bool?>(column.Name), rows),
        ColumnType.Time => new Times(new DateTimeDataField(column.Name, DateTimeFormat.Timestamp, isAdjustedToUTC: true, unit: DateTimeTimeUnit.Micros, isNullable: true), rows),
        _ => new Texts(new DataField(column.Name, typeof(string), isNullable: true), rows),
    };

    /// <summary>True where the library's least and greatest values are not those of the cells (<see cref="ParquetFooter"/>).</summary>
    public virtual bool StatisticsAreWrong => false;

    /// <summary>Fills the cell of a row; one that is not filled is null.</summary>
    public abstract void Set(int row, ReadOnlySpan<byte> utf8);

    public virtual void Set(int row, bool value) => throw new InvalidOperationException($"the column {Field.Name} holds no flags");

    /// <summary>Writes the first rows as the column's part of a row group, and forgets them.</summary>
    public abstract Task WriteAsync(ParquetRowGroupWriter group, int rows);

    private protected InvalidOperationException NotOfItsKind() => new($"a cell of the column {Field.Name} is not what the contract says");

    private abstract class Values<T>(DataField field, int rows) : ParquetColumn(field) where T : struct
    {
        private protected T?[] Cells { get; } = new T?[rows];

        public override async Task WriteAsync(ParquetRowGroupWriter group, int rows)
        {
            await group.WriteAsync<T>(Field, Cells.AsMemory(0, rows)).ConfigureAwait(false);
            Array.Clear(Cells);
        }
    }

    private sealed class Integers(DataField field, int rows) : Values<long>(field, rows)
    {
        public override void Set(int row, ReadOnlySpan<byte> utf8) =>
            Cells[row] = Utf8Parser.TryParse(utf8, out long value, out int taken) && taken == utf8.Length ? value : throw NotOfItsKind();
    }

    private sealed class Reals(DataField field, int rows) : Values<double>(field, rows)
    {
        public override void Set(int row, ReadOnlySpan<byte> utf8) =>
            Cells[row] = Utf8Parser.TryParse(utf8, out double value, out int taken) && taken == utf8.Length ? value : throw NotOfItsKind();
    }

    private sealed class Flags(DataField field, int rows) : Values<bool>(field, rows)
    {
        public override void Set(int row, ReadOnlySpan<byte> utf8) => throw NotOfItsKind();

        public override void Set(int row, bool value) => Cells[row] = value;
    }

    /// <summary>Microseconds: the finest unit that all usual readers of Parquet take.</summary>
    private sealed class Times(DataField field, int rows) : Values<DateTime>(field, rows)
    {
        public override bool StatisticsAreWrong => true;

        public override void Set(int row, ReadOnlySpan<byte> utf8) => Cells[row] = TimeCell.TryRead(utf8, out DateTime time) ? time : throw NotOfItsKind();
    }

    /// <summary>Texts lie one after the other in blocks that serve all row groups, so that a cell costs no object.</summary>
    private sealed class Texts(DataField field, int rows) : Values<ReadOnlyMemory<char>>(field, rows)
    {
        private const int BlockLength = 1 << 15;

        private readonly List<char[]> _blocks = [];
        private int _block = -1, _used = BlockLength;

        public override bool StatisticsAreWrong => true;

        public override void Set(int row, ReadOnlySpan<byte> utf8)
        {
            if (utf8.Length > BlockLength)                  // never more UTF-16 units than octets
            {
                Cells[row] = Encoding.UTF8.GetString(utf8).AsMemory();
                return;
            }
            if (BlockLength - _used < utf8.Length)
                TakeBlock();
            int length = Encoding.UTF8.GetChars(utf8, _blocks[_block].AsSpan(_used));
            Cells[row] = _blocks[_block].AsMemory(_used, length);
            _used += length;
        }

        public override async Task WriteAsync(ParquetRowGroupWriter group, int rows)
        {
            await base.WriteAsync(group, rows).ConfigureAwait(false);
            _block = -1;
            _used = BlockLength;
        }

        private void TakeBlock()
        {
            if (++_block == _blocks.Count)
                _blocks.Add(new char[BlockLength]);
            _used = 0;
        }
    }
}
