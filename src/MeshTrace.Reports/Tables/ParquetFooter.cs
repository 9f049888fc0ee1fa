using System.Buffers;
using System.Buffers.Binary;

namespace MeshTrace.Reports.Tables;

/// <summary>
/// Takes the statistics of columns out of the end of a Parquet file. The library writes least and greatest values that are wrong for times (counted
/// in milliseconds, whatever the column's unit) and for texts (ordered by UTF-16 units, not by octets): readers trust them and pass over rows that
/// they should find. Without statistics they look at the rows.
/// </summary>
/// <remarks>
/// Apache Parquet format: file metadata (Thrift compact protocol) | its length, 4 octets, little-endian | "PAR1". The statistics are field 12 of
/// ColumnMetaData, which is field 3 of ColumnChunk, an element of field 1 of RowGroup, an element of field 4 of FileMetaData.
/// </remarks>
internal ref struct ParquetFooter
{
    private const int TailLength = 8;

    private readonly ReadOnlySpan<byte> _old;
    private readonly ArrayBufferWriter<byte> _new;
    private readonly IReadOnlyList<bool> _drops;
    private int _at, _ordinal;

    private ParquetFooter(ReadOnlySpan<byte> old, ArrayBufferWriter<byte> rewritten, IReadOnlyList<bool> drops)
    {
        _old = old;
        _new = rewritten;
        _drops = drops;
    }

    /// <summary>What a struct is, as far as it matters on the way to the statistics.</summary>
    private enum Part : byte
    {
        File,
        RowGroup,
        Chunk,
        ColumnMetaData,
        Other,
    }

    /// <summary>The types of the compact protocol.</summary>
    private enum Wire : byte
    {
        Stop = 0,
        True = 1,
        False = 2,
        Octet = 3,
        Int16 = 4,
        Int32 = 5,
        Int64 = 6,
        Double = 7,
        Binary = 8,
        List = 9,
        Set = 10,
        Map = 11,
        Struct = 12,
    }

    /// <summary>Rewrites the end of a whole file.</summary>
    /// <param name="file">Readable, writeable, able to seek; the file ends where the stream ends.</param>
    /// <param name="drops">For each column, in the schema's order, whether its statistics go.</param>
    public static void DropStatistics(Stream file, IReadOnlyList<bool> drops)
    {
        Span<byte> tail = stackalloc byte[TailLength];
        file.Seek(-TailLength, SeekOrigin.End);
        file.ReadExactly(tail);
        var old = new byte[BinaryPrimitives.ReadInt32LittleEndian(tail)];
        long begin = file.Length - TailLength - old.Length;
        file.Seek(begin, SeekOrigin.Begin);
        file.ReadExactly(old);
        var rewritten = new ArrayBufferWriter<byte>(old.Length);
        new ParquetFooter(old, rewritten, drops).CopyStruct(Part.File);
        BinaryPrimitives.WriteInt32LittleEndian(tail, rewritten.WrittenCount);
        file.Seek(begin, SeekOrigin.Begin);
        file.Write(rewritten.WrittenSpan);
        file.Write(tail);
        file.SetLength(file.Position);
    }

    private void CopyStruct(Part part)
    {
        int oldId = 0, newId = 0;
        while (true)
        {
            byte header = Next();
            var type = (Wire)(header & 0x0F);
            if (type == Wire.Stop)
            {
                Put(0);
                return;
            }
            int delta = header >> 4;
            oldId = delta > 0 ? oldId + delta : Unzigzag(Varint());
            if (part == Part.ColumnMetaData && oldId == 12 && _drops[_ordinal])
            {
                Skip(type);
                continue;
            }
            PutHeader(oldId - newId, oldId, type);
            newId = oldId;
            Part inner = (part, oldId) switch
            {
                (Part.File, 4) => Part.RowGroup,
                (Part.RowGroup, 1) => Part.Chunk,
                (Part.Chunk, 3) => Part.ColumnMetaData,
                _ => Part.Other,
            };
            CopyField(type, inner);
        }
    }

    /// <summary>A value that is a field: of a flag, the header told all.</summary>
    private void CopyField(Wire type, Part inner)
    {
        if (type is not (Wire.True or Wire.False))
            CopyValue(type, inner);
    }

    private void CopyValue(Wire type, Part inner)
    {
        switch (type)
        {
            case Wire.True or Wire.False or Wire.Octet:
                Copy(1);
                break;
            case Wire.Int16 or Wire.Int32 or Wire.Int64:
                PutVarint(Varint());
                break;
            case Wire.Double:
                Copy(8);
                break;
            case Wire.Binary:
                ulong length = Varint();
                PutVarint(length);
                Copy(checked((int)length));
                break;
            case Wire.List or Wire.Set:
                CopyList(inner);
                break;
            case Wire.Map:
                CopyMap();
                break;
            case Wire.Struct:
                CopyStruct(inner);
                break;
            default:
                throw new InvalidDataException($"type {type} in the metadata of a Parquet file");
        }
    }

    private void CopyList(Part inner)
    {
        byte header = Next();
        Put(header);
        ulong count = (ulong)(header >> 4);
        if (count == 15)
        {
            count = Varint();
            PutVarint(count);
        }
        for (ulong i = 0; i < count; i++)
        {
            if (inner == Part.Chunk)
                _ordinal = (int)i;
            CopyValue((Wire)(header & 0x0F), inner);
        }
    }

    private void CopyMap()
    {
        ulong count = Varint();
        PutVarint(count);
        if (count == 0)
            return;
        byte types = Next();
        Put(types);
        for (ulong i = 0; i < count; i++)
        {
            CopyValue((Wire)(types >> 4), Part.Other);
            CopyValue((Wire)(types & 0x0F), Part.Other);
        }
    }

    /// <summary>Passes over a field's value: copied to nowhere.</summary>
    private void Skip(Wire type)
    {
        var past = new ParquetFooter(_old, new ArrayBufferWriter<byte>(), _drops) { _at = _at };
        past.CopyField(type, Part.Other);
        _at = past._at;
    }

    private byte Next() => _old[_at++];

    private void Copy(int octets)
    {
        _new.Write(_old.Slice(_at, octets));
        _at += octets;
    }

    private ulong Varint()
    {
        ulong value = 0;
        for (int shift = 0; shift < 64; shift += 7)
        {
            byte octet = Next();
            value |= (ulong)(octet & 0x7F) << shift;
            if (octet < 0x80)
                return value;
        }
        throw new InvalidDataException("a number in the metadata of a Parquet file does not end");
    }

    private static int Unzigzag(ulong value) => (int)(value >> 1) ^ -(int)(value & 1);

    private readonly void Put(byte octet) => _new.Write([octet]);

    private readonly void PutVarint(ulong value)
    {
        for (; value >= 0x80; value >>= 7)
            Put((byte)((value & 0x7F) | 0x80));
        Put((byte)value);
    }

    private readonly void PutHeader(int delta, int id, Wire type)
    {
        if (delta is > 0 and < 16)
        {
            Put((byte)((delta << 4) | (byte)type));
            return;
        }
        Put((byte)type);
        PutVarint((ulong)(uint)((id << 1) ^ (id >> 31)));
    }
}
