using System.Diagnostics;
using System.Globalization;
using System.Runtime.CompilerServices;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Benchmarks.Whole;

/// <summary>
/// Opening long Network PDUs against what the processor needs at least (<see cref="AesFloors"/>): four AES blocks of which each waits for the one before, for PDUs one by
/// one, and four whose rounds are interleaved, for one of a batch.
/// </summary>
internal static class DecryptionFloors
{
    private const int Repeats = 60, Operations = 4_096, Batch = 64, WarmRounds = 3;
    private const uint IvIndex = 0x12345678;

    public static void Tell()
    {
        using var benchmark = new NetworkPduBenchmarks { Pdu = "long" };
        benchmark.Prepare();
        var floors = new AesFloors(Convert.FromHexString("0953fa93e7caac9638f58820220a398e"));
        var credentials = NetworkCredentials.Flooding(Convert.FromHexString("7dd7364cd842ad18c17c2b820c84c3d6"));
        byte[][] pdus = [.. Enumerable.Range(0, Batch).Select(number => Composed(number, credentials))];
        byte[] clear = new byte[32];
        double chained = Ns(() => floors.Chained(Operations)), alone = Ns(() => EachAfterTheOther(pdus, credentials, clear));
        double plain = Ns(() => benchmark.OverBouncyCastlesEngine() ? Operations : 0, calls: Operations);
        double apart = Math.Min(Ns(() => floors.FourAtOnce(Operations)), Ns(() => floors.EightAtOnce(Operations))), batch = Ns(() => Together(pdus, credentials, clear));
        Console.WriteLine("| four chained blocks (floor) | opening distinct PDUs one by one | to the floor | over BouncyCastle's engine | four blocks interleaved (floor of a batch) | opening one of a batch | to that floor |");
        Console.WriteLine("| --- | --- | --- | --- | --- | --- | --- |");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"| {chained:F1} ns | {alone:F1} ns | **{alone / chained:F2}** | {plain:F1} ns | {apart:F1} ns | {batch:F1} ns | **{batch / apart:F2}** |"));
    }

    /// <summary>A PDU of 29 octets with a SEQ of its own.</summary>
    private static byte[] Composed(int number, NetworkCredentials credentials)
    {
        byte[] clear = new byte[NetworkSecurity.LongestClearPdu], pdu = new byte[NetworkSecurity.LongestPdu], transport = new byte[16];
        new Random(number).NextBytes(transport);
        int length = NetworkSecurity.Write(clear, IvIndex, credentials.Nid, ctl: false, ttl: 5, (uint)number, new Protocol.MeshAddress(0x1201), new Protocol.MeshAddress(0xC000), transport);
        NetworkSecurity.Encrypt(clear.AsSpan(0, length), credentials, IvIndex, pdu);
        return pdu;
    }

    /// <summary>
    /// Which PDU comes next hangs on the SEQ of the one before. That is known after the first of four chained blocks, and the processor guesses that the NetMIC will be right:
    /// so a PDU overlaps with the end of the one before, and this can be less than the floor.
    /// </summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int EachAfterTheOther(byte[][] pdus, NetworkCredentials credentials, byte[] clear)
    {
        int at = 0;
        for (int i = 0; i < Operations; i++)
        {
            if (!NetworkSecurity.TryDecrypt(pdus[at], credentials, IvIndex, clear, out _))
                throw new InvalidOperationException("A PDU does not open.");
            at = (clear[4] + 1) % Batch;     // the low octet of its SEQ, which is its number
        }
        return at;
    }

    /// <summary>As the opener goes through a batch.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static int Together(byte[][] pdus, NetworkCredentials credentials, byte[] clear)
    {
        int opened = 0;
        NetworkBatch batch = default;
        batch.Begin(credentials);
        for (int i = 0; i < Operations; i += NetworkBatch.Capacity)
        {
            for (int k = 0; k < NetworkBatch.Capacity; k++)
                batch.Add(pdus[(i + k) % Batch], IvIndex);
            batch.Open();
            for (int k = 0; k < NetworkBatch.Capacity; k++)
            {
                if (!batch.TryTake(k, clear, out int length))
                    throw new InvalidOperationException("A PDU does not open.");
                opened += length;
            }
            batch.Clear();
        }
        return opened;
    }

    /// <summary>Nanoseconds an operation: the least of many rounds, after the runtime has had time to compile for good.</summary>
    private static double Ns(Func<int> action, int calls = 1)
    {
        for (int round = 0; round < WarmRounds; round++)
        {
            for (int i = 0; i < 64 * calls; i++)
                action();
            Thread.Sleep(250);
        }
        double least = double.MaxValue;
        for (int repeat = 0; repeat < Repeats; repeat++)
        {
            var watch = Stopwatch.StartNew();
            for (int i = 0; i < calls; i++)
                action();
            least = Math.Min(least, watch.Elapsed.TotalNanoseconds / Operations);
        }
        return least;
    }
}
